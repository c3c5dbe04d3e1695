module board (s, r, i0, i1, q, p, n0, n1, n2, n3, n4, n5);
  input s, r, i0, i1;
  output q, p, n0, n1, n2, n3, n4, n5;
  nand a (q, s, p);
  nand b (p, r, q);
  not g0 (n0, i1);
  and g1 (n1, n0, i1);
  not g2 (n2, i0);
  buf g3 (n3, i0);
  nor g4 (n4, i0, n3, p);
  nand g5 (n5, n0, i0, n3);
endmodule
