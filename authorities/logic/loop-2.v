module board (s, r, i0, i1, q, p, n0, n1, n2, n3, n4, n5);
  input s, r, i0, i1;
  output q, p, n0, n1, n2, n3, n4, n5;
  nand a (q, s, p);
  nand b (p, r, q);
  and g0 (n0, q, p);
  or g1 (n1, i0, n0, i1);
  nor g2 (n2, q, n0, p);
  not g3 (n3, n1);
  not g4 (n4, n1);
  buf g5 (n5, n4);
endmodule
