// The innermost part of a convolution, compiled once for each kind of processor: KIND names it, WIDE is how
// many floats a register holds, CELLS x BLOCKS how many registers of sums are kept at once.

typedef float NAME(floats) __attribute__((vector_size(4 * WIDE), aligned(4), may_alias));
typedef int32_t NAME(counts) __attribute__((vector_size(4 * WIDE), aligned(4), may_alias));

// exp is e^x to 2e-7, relative: 2^n times a polynomial on +-ln 2 / 2 (Cephes' expf; its numbers from memory,
// a test holds it against the standard library).
static inline __attribute__((always_inline)) NAME(floats) NAME(exp)(NAME(floats) x)
{
	const NAME(floats) least = -87 - (NAME(floats)){}, most = 87 - (NAME(floats)){};
	NAME(counts) low = x < least, high = x > most;
	x = (NAME(floats))((low & (NAME(counts))least) | (high & (NAME(counts))most) | (~(low | high) & (NAME(counts))x));
	NAME(floats) n = (x * 1.44269504088896341f + 12582912.0f) - 12582912.0f; // 1.5 x 2^23 leaves no fraction
	x = x - n * 0.693359375f + n * 2.12194440e-4f;
	NAME(floats) p = 1.9875691500e-4f * x + 1.3981999507e-3f;
	p = p * x + 8.3334519073e-3f;
	p = p * x + 4.1665795894e-2f;
	p = p * x + 1.6666665459e-1f;
	p = p * x + 5.0000001201e-1f;
	p = p * x * x + x + 1;
	NAME(counts) two = (__builtin_convertvector(n, NAME(counts)) + 127) << 23;
	return p * (NAME(floats))two;
}

// tile is `cells` neighbouring cells of BLOCKS x WIDE output channels.
static inline __attribute__((always_inline)) void NAME(tile)(const convolution *by, const picture *in,
	const float *at, const float *weights, int next, const float *bias, float *to, long to_stride, int silu,
	int cells)
{
	NAME(floats) sum[CELLS][BLOCKS];
	const long row = (long)(in->w + 2) * in->stride, cell = in->stride;
#pragma GCC unroll 16
	for (int p = 0; p < cells; p++)
#pragma GCC unroll 4
		for (int b = 0; b < BLOCKS; b++)
			sum[p][b] = *(const NAME(floats) *)(bias + b * WIDE);
	for (int y = 0; y < by->window; y++)
		for (int x = 0; x < by->window; x++) {
			const float *from = at + y * row + x * cell;
			for (int i = 0; i < by->inputs; i++, weights += next)
#pragma GCC unroll 16
				for (int p = 0; p < cells; p++) {
					NAME(floats) v = from[p * cell + i] - (NAME(floats)){};
#pragma GCC unroll 4
					for (int b = 0; b < BLOCKS; b++)
						sum[p][b] += v * *(const NAME(floats) *)(weights + b * WIDE);
				}
		}
#pragma GCC unroll 16
	for (int p = 0; p < cells; p++)
#pragma GCC unroll 4
		for (int b = 0; b < BLOCKS; b++) {
			NAME(floats) s = sum[p][b];
			if (silu)
				s = s / (1 + NAME(exp)(-s));
			*(NAME(floats) *)(to + p * to_stride + b * WIDE) = s;
		}
}

static void NAME(convolve)(const convolution *by, const picture *in, const picture *out, int silu)
{
	const int rim = by->window == 3 ? 0 : 1; // a window of one cell begins inside the rim
	for (int k = 0; k < out->stride; k += BLOCKS * WIDE) {
		const int group = k / GROUP * GROUP, next = group + GROUP <= out->stride ? GROUP : LANES;
		const float *weights = by->weights + (long)group * by->inputs * by->window * by->window + k - group;
		for (int y = 0; y < out->h; y++) {
			const float *from = in->at + ((long)(y + rim) * (in->w + 2) + rim) * in->stride;
			float *to = out->at + ((long)(y + 1) * (out->w + 2) + 1) * out->stride + k;
			int x = 0;
			for (; x + CELLS <= out->w; x += CELLS)
				NAME(tile)(by, in, from + (long)x * in->stride, weights, next, by->bias + k,
					to + (long)x * out->stride, out->stride, silu, CELLS);
			for (; x < out->w; x++)
				NAME(tile)(by, in, from + (long)x * in->stride, weights, next, by->bias + k,
					to + (long)x * out->stride, out->stride, silu, 1);
		}
	}
}
