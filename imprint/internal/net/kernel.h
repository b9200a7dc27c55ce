// Convolutions and what stands between them, on pictures stored cell by cell: a picture of h x w cells and c
// channels has a rim of one cell of zeros, and each cell holds `stride` floats, c rounded up to 16.
#ifndef SITSPAN_KERNEL_H
#define SITSPAN_KERNEL_H

#include <stdint.h>

enum { LANES = 16 }; // channels that are worked on at once

typedef struct {
	float *at; // of the rim's first cell
	int32_t h, w, c, stride;
} picture;

// A convolution's weights, packed by pack(): group by group of output channels, then by place in the window,
// then by input channel. bias has the output's stride.
typedef struct {
	const float *weights, *bias;
	int32_t inputs, outputs, window; // window: 1 or 3 cells a side
} convolution;

// packed is how many floats pack() writes.
int64_t packed(int32_t outputs, int32_t inputs, int32_t window);
// pack lays out weights (outputs x inputs x window x window, as ONNX has them) given as floats, or as halves
// where `halves` is set.
void pack(float *to, const void *from, int halves, int32_t outputs, int32_t inputs, int32_t window);

// best_kind is the fastest loop that this processor can run: 0 for any, 1 with AVX2, 2 with AVX-512.
int best_kind(void);
// convolve is the convolution, passed through x / (1 + exp -x) where `silu` is set. `out` is not `in`.
void convolve(int kind, const convolution *by, const picture *in, const picture *out, int silu);

void sigmoid(const picture *in, const picture *out);
void add(const picture *a, const picture *b, const picture *out);
// multiply multiplies cell by cell, or, where b has one cell, all cells by that.
void multiply(const picture *a, const picture *b, const picture *out);
void scale(const picture *in, float by, const picture *out);
void halve(const picture *in, const picture *out);  // means of 2 x 2 cells
void mean(const picture *in, const picture *out);   // of all cells, into the only one
// enlarge doubles rows and columns, bilinearly between the cells' centres, into out's first channels.
void enlarge(const picture *in, const picture *out);
void join(const picture *in, const picture *out, int32_t first); // puts in's channels into out's, from first on

// load and store change from and to channel by channel, row by row.
void load(const float *from, const picture *out);
void store(const picture *in, float *to);

// take is zeroed memory of so many floats; NULL where the system has none.
// give gives it back.
float *take(int64_t floats);
void give(float *memory, int64_t floats);
// shifted is the place so many floats further on.
static inline float *shifted(float *memory, int64_t floats) { return memory + floats; }

#endif
