// What the vector code has in common. It is for processors with AVX2 and FMA;
// the functions of the same names in plain Go have the formulas.
//
// A block, four real parts and four imaginary parts, is two registers. The
// assembler's operand order is source, source, destination; in VSUBPD B, A, C
// the result C is A - B.

// OR + i OI = (WR + i WI) (XR + i XI)
#define TIMES(WR, WI, XR, XI, OR, OI) \
	VMULPD XI, WI, OR \
	VMULPD XR, WI, OI \
	VFMSUB231PD XR, WR, OR \
	VFMADD231PD XI, WR, OI

// Butterfly of radix 4. In: a (Y0, Y1), b (Y2, Y3), c (Y4, Y5), d (Y6, Y7).
// Out: coefficients 0 (Y4, Y5), 1 (Y6, Y7), 2 (Y8, Y9), 3 (Y10, Y11).
#define FOUR \
	VADDPD Y4, Y0, Y8 \
	VADDPD Y5, Y1, Y9 \
	VSUBPD Y4, Y0, Y0 \
	VSUBPD Y5, Y1, Y1 \
	VADDPD Y6, Y2, Y10 \
	VADDPD Y7, Y3, Y11 \
	VSUBPD Y6, Y2, Y2 \
	VSUBPD Y7, Y3, Y3 \
	VADDPD Y10, Y8, Y4 \
	VADDPD Y11, Y9, Y5 \
	VADDPD Y3, Y0, Y6 \
	VSUBPD Y2, Y1, Y7 \
	VSUBPD Y10, Y8, Y8 \
	VSUBPD Y11, Y9, Y9 \
	VSUBPD Y3, Y0, Y10 \
	VADDPD Y2, Y1, Y11

// The four blocks of a butterfly of radix 4, from streams R8 bytes apart; R9 is
// three times R8.
#define LOAD4 \
	VMOVUPD (SI), Y0 \
	VMOVUPD 32(SI), Y1 \
	VMOVUPD (SI)(R8*1), Y2 \
	VMOVUPD 32(SI)(R8*1), Y3 \
	VMOVUPD (SI)(R8*2), Y4 \
	VMOVUPD 32(SI)(R8*2), Y5 \
	VMOVUPD (SI)(R9*1), Y6 \
	VMOVUPD 32(SI)(R9*1), Y7
