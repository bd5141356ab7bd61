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
// length. Making one takes as long as some tens of transforms of its length
// (a few when n is large), using it allocates nothing. A plan must not be used
// by two goroutines at once: give each its own with Clone, which shares the
// tables.
//
// A wrong length is the caller's mistake and panics. NaN and Inf are not
// looked for: one of them in the input spoils every output.
//
// # Lengths
//
// Real sequences of 8·2^a·3^b·5^c samples and complex ones of half that are
// served by passes of our own, with vector arithmetic on processors that have
// AVX2 and FMA; [FastLen] finds the best of these lengths. Other lengths with a
// prime factor above 5, and with the vector code all long ones, go by a convolution of a fast length,
// which takes seven to ten times as long when n is even and twice that when it is
// odd, and the rest by gonum's dsp/fourier. The build tag purego leaves the vector code out.
//
// # Accuracy
//
// The worst error of a coefficient of normally distributed samples, in units of
// 2^-53 times the root-mean-square coefficient, against the sum above carried
// out in twice the precision (TestAccuracy):
//
//	lengths                        worst error seen
//	8·2^a·3^b·5^c, 16 … 262144     8
//	with other primes, 53 … 44100  18
//	other products of 3 and 5      18
package transform
