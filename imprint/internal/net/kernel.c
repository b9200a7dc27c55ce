#define _GNU_SOURCE
#include "kernel.h"

#include <string.h>
#include <sys/mman.h>

enum { GROUP = 2 * LANES }; // output channels whose weights lie together

#define JOIN(a, b) a##_##b
#define NAMED(a, b) JOIN(a, b)
#define NAME(a) NAMED(a, KIND)

#if defined(__x86_64__)
#pragma GCC push_options
#pragma GCC target("avx512f,fma")
#define KIND avx512
#define WIDE 16
#define CELLS 13
#define BLOCKS 1
#include "tile.h"
#undef KIND
#undef WIDE
#undef CELLS
#undef BLOCKS
#pragma GCC pop_options
#pragma GCC push_options
#pragma GCC target("avx2,fma")
#define KIND avx2
#define WIDE 8
#define CELLS 6
#define BLOCKS 2
#include "tile.h"
#undef KIND
#undef WIDE
#undef CELLS
#undef BLOCKS
#pragma GCC pop_options
#endif
#define KIND plain
#define WIDE 4
#define CELLS 3
#define BLOCKS 2
#include "tile.h"

int64_t packed(int32_t outputs, int32_t inputs, int32_t window)
{
	return (int64_t)(outputs + LANES - 1) / LANES * LANES * inputs * window * window;
}

// half is an IEEE 754 binary16 number as a float. The exponent's bias is put right by a multiplication, which
// serves numbers below 2^-14, too; there are no infinities among weights.
static inline float half(uint16_t h)
{
	uint32_t bits = (uint32_t)(h & 0x7fff) << 13;
	float f;
	memcpy(&f, &bits, 4);
	f *= 0x1p112f;
	return h & 0x8000 ? -f : f;
}

void pack(float *to, const void *from, int halves, int32_t outputs, int32_t inputs, int32_t window)
{
	const int places = window * window, stride = (outputs + LANES - 1) / LANES * LANES;
	for (int k0 = 0; k0 < stride; k0 += GROUP) {
		const int n = k0 + GROUP <= stride ? GROUP : LANES;
		for (int place = 0; place < places; place++)
			for (int i = 0; i < inputs; i++)
				for (int k = k0; k < k0 + n; k++, to++) {
					const long at = ((long)k * inputs + i) * places + place;
					*to = k >= outputs ? 0 : halves ? half(((const uint16_t *)from)[at]) : ((const float *)from)[at];
				}
	}
}

int best_kind(void)
{
#if defined(__x86_64__)
	if (__builtin_cpu_supports("avx512f"))
		return 2;
	if (__builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma"))
		return 1;
#endif
	return 0;
}

void convolve(int kind, const convolution *by, const picture *in, const picture *out, int silu)
{
#if defined(__x86_64__)
	if (kind == 2)
		return convolve_avx512(by, in, out, silu);
	if (kind == 1)
		return convolve_avx2(by, in, out, silu);
#endif
	convolve_plain(by, in, out, silu);
}

// ROWS goes through a picture's rows without the rim: `n` floats from `v` on, in row y.
#define ROWS(p) for (int y = 0, n = (p)->w * (p)->stride; y < (p)->h; y++)
#define ROW(p) ((p)->at + ((long)(y + 1) * ((p)->w + 2) + 1) * (p)->stride)

void sigmoid(const picture *in, const picture *out)
{
	ROWS(out) {
		for (int i = 0; i < n; i += WIDE)
			*(floats_plain *)(ROW(out) + i) = 1 / (1 + exp_plain(-*(const floats_plain *)(ROW(in) + i)));
	}
}

void add(const picture *a, const picture *b, const picture *out)
{
	ROWS(out) {
		const float *u = ROW(a), *v = ROW(b);
		float *to = ROW(out);
		for (int i = 0; i < n; i++)
			to[i] = u[i] + v[i];
	}
}

void multiply(const picture *a, const picture *b, const picture *out)
{
	const int single = b->h == 1 && b->w == 1;
	ROWS(out) {
		const float *u = ROW(a), *v = single ? b->at + 4L * b->stride : ROW(b);
		float *to = ROW(out);
		for (int i = 0; i < n; i += out->stride)
			for (int k = 0; k < out->stride; k++)
				to[i + k] = u[i + k] * v[single ? k : i + k];
	}
}

void scale(const picture *in, float by, const picture *out)
{
	ROWS(out) {
		const float *u = ROW(in);
		float *to = ROW(out);
		for (int i = 0; i < n; i++)
			to[i] = u[i] * by;
	}
}

void halve(const picture *in, const picture *out)
{
	const long next = (long)(in->w + 2) * in->stride, s = in->stride;
	for (int y = 0; y < out->h; y++)
		for (int x = 0; x < out->w; x++) {
			const float *u = in->at + (2 * y + 1) * next + (2 * x + 1) * s;
			float *to = out->at + ((long)(y + 1) * (out->w + 2) + x + 1) * out->stride;
			for (int k = 0; k < s; k++)
				to[k] = (u[k] + u[k + s] + u[k + next] + u[k + next + s]) / 4;
		}
}

void mean(const picture *in, const picture *out)
{
	float *to = out->at + 4L * out->stride;
	memset(to, 0, 4 * out->stride);
	ROWS(in) {
		const float *u = ROW(in);
		for (int i = 0; i < n; i += in->stride)
			for (int k = 0; k < in->stride; k++)
				to[k] += u[i + k];
	}
	for (int k = 0; k < in->stride; k++)
		to[k] /= in->h * in->w;
}

void enlarge(const picture *in, const picture *out)
{
	const long next = (long)(in->w + 2) * in->stride, s = in->stride;
	for (int y = 0; y < out->h; y++)
		for (int x = 0; x < out->w; x++) {
			// Between the centres: a quarter of the cell further off; at the picture's edge it is the same.
			int y0 = y / 2, y1 = y0 + (y & 1 ? 1 : -1), x0 = x / 2, x1 = x0 + (x & 1 ? 1 : -1);
			y1 = y1 < 0 ? 0 : y1 >= in->h ? in->h - 1 : y1;
			x1 = x1 < 0 ? 0 : x1 >= in->w ? in->w - 1 : x1;
			const float *a = in->at + (y0 + 1) * next + s, *b = in->at + (y1 + 1) * next + s;
			float *to = out->at + ((long)(y + 1) * (out->w + 2) + x + 1) * out->stride;
			for (int k = 0; k < in->c; k++)
				to[k] = 0.75f * (0.75f * a[x0 * s + k] + 0.25f * a[x1 * s + k]) +
					0.25f * (0.75f * b[x0 * s + k] + 0.25f * b[x1 * s + k]);
		}
}

void join(const picture *in, const picture *out, int32_t first)
{
	for (int y = 0; y < out->h; y++)
		for (int x = 0; x < out->w; x++) {
			const long cell = (long)(y + 1) * (out->w + 2) + x + 1;
			memcpy(out->at + cell * out->stride + first, in->at + cell * in->stride, 4 * in->c);
		}
}

void load(const float *from, const picture *out)
{
	for (int c = 0; c < out->c; c++)
		for (int y = 0; y < out->h; y++)
			for (int x = 0; x < out->w; x++)
				ROW(out)[(long)x * out->stride + c] = *from++;
}

void store(const picture *in, float *to)
{
	for (int c = 0; c < in->c; c++)
		for (int y = 0; y < in->h; y++)
			for (int x = 0; x < in->w; x++)
				*to++ = ROW(in)[(long)x * in->stride + c];
}

float *take(int64_t floats)
{
	void *p = mmap(NULL, 4 * (size_t)floats, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
	if (p == MAP_FAILED)
		return NULL;
#ifdef MADV_DONTFORK
	madvise(p, 4 * (size_t)floats, MADV_DONTFORK); // a fork that decodes a picture has no use for it
#endif
	return p;
}

void give(float *memory, int64_t floats) { munmap(memory, 4 * (size_t)floats); }
