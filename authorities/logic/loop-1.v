module board (s, r, i0, i1, q, p, n0, n1, n2, n3, n4, n5);
  input s, r, i0, i1;
  output q, p, n0, n1, n2, n3, n4, n5;
  nand a (q, s, p);
  nand b (p, r, q);
  or g0 (n0, q, p, i1);
  buf g1 (n1, i1);
  buf g2 (n2, n1);
  not g3 (n3, n2);
  nor g4 (n4, n3, q);
  not g5 (n5, n2);
endmodule
