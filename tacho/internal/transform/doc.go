// Package transform computes discrete Fourier transforms of real and complex
// sequences.
//
// With W = exp(-2πi/n) the forward transform of x(0) … x(n-1) is
//
//	X(k) = Σ x(j) W^(jk)   j = 0 … n-1
//
// and the inverse is the same sum with the conjugate of W. Neither is scaled:
// a forward transform followed by an inverse multiplies the sequence by n.
//
// A plan, [Real] or [Complex], holds the tables and the scratch memory of one
// length. Making one is slow, using it allocates nothing. A plan must not be
// used by two goroutines at once: give each its own with Clone, which shares
// the tables.
//
// A wrong length is the caller's mistake and panics. NaN and Inf are not
// looked for: one of them in the input spoils every output.
package transform
