//go:build !purego

#include "textflag.h"
#include "vector_amd64.h"

// The first and last steps of real transforms, and the reordering of the
// coefficients of complex ones, for processors with AVX2 and FMA; halves.go
// and interleave.go have the formulas.

DATA half<>+0(SB)/8, $0.5
GLOBL half<>(SB), RODATA|NOPTR, $8
DATA two<>+0(SB)/8, $2.0
GLOBL two<>(SB), RODATA|NOPTR, $8

// One block of X(k), k = 4b … 4b+3, to (Y2, Y3) and of X(h-k) to (Y0, Y1), from
// the block of Z at (SI), the mirrored one at (R9), and the one after that,
// kept in (Y12, Y13) since the last round. Y15 is one half.
#define PAIR \
	VMOVUPD (SI), Y0 \
	VMOVUPD 32(SI), Y1 \
	VMOVUPD (R9), Y2 \
	VMOVUPD 32(R9), Y3 \
	VBLENDPD $1, Y12, Y2, Y4 \
	VBLENDPD $1, Y13, Y3, Y5 \
	VPERMPD $0x6C, Y4, Y4 \
	VPERMPD $0x6C, Y5, Y5 \
	VMOVAPD Y2, Y12 \
	VMOVAPD Y3, Y13 \
	VADDPD Y4, Y0, Y6 \
	VSUBPD Y5, Y1, Y7 \
	VSUBPD Y4, Y0, Y8 \
	VADDPD Y5, Y1, Y9 \
	VMOVUPD (BX), Y10 \
	VMOVUPD 32(BX), Y11 \
	TIMES(Y10, Y11, Y8, Y9, Y0, Y1) \
	VMOVAPD Y0, Y2 \
	VMOVAPD Y1, Y3 \
	VFMADD231PD Y15, Y6, Y2 \
	VFMADD231PD Y15, Y7, Y3 \
	VFMSUB231PD Y15, Y6, Y0 \
	VFNMADD231PD Y15, Y7, Y1

// func unpackAVX2(dst, z, tw *float64, h int)
TEXT ·unpackAVX2(SB), NOSPLIT, $0-32
	MOVQ dst+0(FP), DI
	MOVQ z+8(FP), SI
	MOVQ tw+16(FP), BX
	MOVQ h+24(FP), CX
	MOVQ CX, R9
	SHLQ $4, R9
	LEAQ -48(DI)(R9*1), R11    // X(h-3)
	LEAQ -64(SI)(R9*1), R9     // the last block of Z
	VMOVUPD (SI), Y12
	VMOVUPD 32(SI), Y13
	VBROADCASTSD half<>(SB), Y15
	SHRQ $3, CX
	JZ   done
loop:
	PAIR
	VUNPCKLPD Y3, Y2, Y4
	VUNPCKHPD Y3, Y2, Y5
	VPERM2F128 $0x20, Y5, Y4, Y6
	VPERM2F128 $0x31, Y5, Y4, Y7
	VMOVUPD Y6, (DI)
	VMOVUPD Y7, 32(DI)
	VUNPCKLPD Y1, Y0, Y4
	VUNPCKHPD Y1, Y0, Y5
	VPERM2F128 $0x31, Y4, Y5, Y6
	VPERM2F128 $0x20, Y4, Y5, Y7
	VMOVUPD Y6, (R11)
	VMOVUPD Y7, 32(R11)
	ADDQ $64, SI
	ADDQ $64, BX
	ADDQ $64, DI
	SUBQ $64, R9
	SUBQ $64, R11
	DECQ CX
	JNZ  loop
done:
	VZEROUPPER
	RET

// func powerAVX2(dst, z, tw *float64, h int)
TEXT ·powerAVX2(SB), NOSPLIT, $0-32
	MOVQ dst+0(FP), DI
	MOVQ z+8(FP), SI
	MOVQ tw+16(FP), BX
	MOVQ h+24(FP), CX
	LEAQ -24(DI)(CX*8), R11    // |X(h-3)|²
	MOVQ CX, R9
	SHLQ $4, R9
	LEAQ -64(SI)(R9*1), R9     // the last block of Z
	VMOVUPD (SI), Y12
	VMOVUPD 32(SI), Y13
	VBROADCASTSD half<>(SB), Y15
	SHRQ $3, CX
	JZ   done
loop:
	PAIR
	VMULPD Y2, Y2, Y4
	VMULPD Y0, Y0, Y5
	VFMADD231PD Y3, Y3, Y4
	VFMADD231PD Y1, Y1, Y5
	VPERMPD $0x1B, Y5, Y5
	VMOVUPD Y4, (DI)
	VMOVUPD Y5, (R11)
	ADDQ $64, SI
	ADDQ $64, BX
	ADDQ $32, DI
	SUBQ $64, R9
	SUBQ $32, R11
	DECQ CX
	JNZ  loop
done:
	VZEROUPPER
	RET

// func packAVX2(dst, src, tw *float64, h int)
//
// It leaves out the first block, whose mirror image is not whole. Between
// loading and storing the lanes are in the order 0, 2, 1, 3.
TEXT ·packAVX2(SB), NOSPLIT, $0-32
	MOVQ dst+0(FP), DI
	MOVQ src+8(FP), SI
	MOVQ tw+16(FP), BX
	MOVQ h+24(FP), CX
	MOVQ CX, R9
	SHLQ $4, R9
	LEAQ -112(DI)(R9*1), R11   // 2 Z of place h-7
	LEAQ -112(SI)(R9*1), R9    // X(h-7)
	ADDQ $64, SI
	ADDQ $64, DI
	ADDQ $64, BX
	VBROADCASTSD two<>(SB), Y15
	SHRQ $3, CX
	SUBQ $1, CX
	JLE  done
loop:
	VMOVUPD (SI), Y2
	VMOVUPD 32(SI), Y3
	VUNPCKLPD Y3, Y2, Y0
	VUNPCKHPD Y3, Y2, Y1
	VMOVUPD (R9), Y2
	VMOVUPD 32(R9), Y3
	VUNPCKLPD Y2, Y3, Y4
	VUNPCKHPD Y2, Y3, Y5
	VPERM2F128 $0x01, Y4, Y4, Y4
	VPERM2F128 $0x01, Y5, Y5, Y5
	VADDPD Y4, Y0, Y6          // S
	VSUBPD Y5, Y1, Y7
	VSUBPD Y4, Y0, Y8
	VADDPD Y5, Y1, Y9
	VPERMPD $0xD8, (BX), Y10
	VPERMPD $0xD8, 32(BX), Y11
	VMULPD Y9, Y11, Y0         // T/2
	VMULPD Y9, Y10, Y1
	VFMADD231PD Y8, Y10, Y0
	VFNMADD231PD Y8, Y11, Y1
	VMOVAPD Y6, Y2
	VMOVAPD Y7, Y3
	VFNMADD231PD Y15, Y0, Y2   // S - T
	VFMSUB231PD Y15, Y1, Y3    // T - S
	VFMADD231PD Y15, Y0, Y6    // S + T
	VFMADD231PD Y15, Y1, Y7
	VUNPCKLPD Y3, Y2, Y4
	VUNPCKHPD Y3, Y2, Y5
	VMOVUPD Y4, (DI)
	VMOVUPD Y5, 32(DI)
	VUNPCKLPD Y7, Y6, Y4
	VUNPCKHPD Y7, Y6, Y5
	VPERM2F128 $0x01, Y4, Y4, Y4
	VPERM2F128 $0x01, Y5, Y5, Y5
	VMOVUPD Y5, (R11)
	VMOVUPD Y4, 32(R11)
	ADDQ $64, SI
	ADDQ $64, BX
	ADDQ $64, DI
	SUBQ $64, R9
	SUBQ $64, R11
	DECQ CX
	JNZ  loop
done:
	VZEROUPPER
	RET

// func interleaveAVX2(dst, src *float64, n int)
TEXT ·interleaveAVX2(SB), NOSPLIT, $0-24
	MOVQ dst+0(FP), DI
	MOVQ src+8(FP), SI
	MOVQ n+16(FP), CX
	SHRQ $2, CX
	JZ   done
loop:
	VMOVUPD (SI), Y0
	VMOVUPD 32(SI), Y1
	VUNPCKLPD Y1, Y0, Y2
	VUNPCKHPD Y1, Y0, Y3
	VPERM2F128 $0x20, Y3, Y2, Y4
	VPERM2F128 $0x31, Y3, Y2, Y5
	VMOVUPD Y4, (DI)
	VMOVUPD Y5, 32(DI)
	ADDQ $64, SI
	ADDQ $64, DI
	DECQ CX
	JNZ  loop
done:
	VZEROUPPER
	RET

// func backwardsAVX2(dst, src *float64, n int)
//
// It leaves out the first block, whose mirror image is not whole.
TEXT ·backwardsAVX2(SB), NOSPLIT, $0-24
	MOVQ dst+0(FP), DI
	MOVQ src+8(FP), SI
	MOVQ n+16(FP), CX
	MOVQ CX, R11
	SHLQ $4, R11
	LEAQ -112(DI)(R11*1), R11  // place n-7
	ADDQ $64, SI
	SHRQ $2, CX
	SUBQ $1, CX
	JLE  done
loop:
	VMOVUPD (SI), Y0
	VMOVUPD 32(SI), Y1
	VUNPCKLPD Y1, Y0, Y2
	VUNPCKHPD Y1, Y0, Y3
	VPERM2F128 $0x31, Y2, Y3, Y4
	VPERM2F128 $0x20, Y2, Y3, Y5
	VMOVUPD Y4, (R11)
	VMOVUPD Y5, 32(R11)
	ADDQ $64, SI
	SUBQ $64, R11
	DECQ CX
	JNZ  loop
done:
	VZEROUPPER
	RET
