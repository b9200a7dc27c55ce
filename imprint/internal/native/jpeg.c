#include "decode.h"

#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jpeglib.h>

// stops ends a decoding at the first thing that is wrong with the file, be it only a warning: what to say of
// such a file is for the decoder in Go.
typedef struct {
	struct jpeg_error_mgr by_the_library;
	jmp_buf back;
} stops;

static void stop(j_common_ptr d) { longjmp(((stops *)d->err)->back, 1); }

static void hear(j_common_ptr d, int level)
{
	if (level < 0)
		stop(d);
}

// fits tells a picture that is kept as it is stored: grey, or YCbCr with chroma at the usual shares of luma.
static int fits(const struct jpeg_decompress_struct *d)
{
	if (d->data_precision != 8)
		return 0;
	if (d->num_components == 1)
		return d->jpeg_color_space == JCS_GRAYSCALE;
	const jpeg_component_info *c = d->comp_info;
	return d->num_components == 3 && d->jpeg_color_space == JCS_YCbCr && (c[0].h_samp_factor == 1 ||
		c[0].h_samp_factor == 2) && (c[0].v_samp_factor == 1 || c[0].v_samp_factor == 2) &&
		c[1].h_samp_factor == 1 && c[1].v_samp_factor == 1 && c[2].h_samp_factor == 1 && c[2].v_samp_factor == 1;
}

// stripe writes lines of a channel without what fills its blocks, n bytes of each row, through `packed`.
static int stripe(int to, JSAMPARRAY rows, int lines, size_t n, uint8_t *packed)
{
	for (int y = 0; y < lines; y++)
		memcpy(packed + y * n, rows[y], n);
	return tell(to, packed, lines * n);
}

int decode_jpeg(const uint8_t *file, size_t size, int to)
{
	struct jpeg_decompress_struct d;
	stops e;
	d.err = jpeg_std_error(&e.by_the_library);
	e.by_the_library.error_exit = stop;
	e.by_the_library.emit_message = hear;
	if (setjmp(e.back))
		return 0; // the fork ends; nothing needs to be freed
	jpeg_create_decompress(&d);
	jpeg_mem_src(&d, file, size);
	jpeg_read_header(&d, TRUE);
	if (!fits(&d))
		return 0;
	d.raw_data_out = TRUE;
	d.out_color_space = d.jpeg_color_space;
	jpeg_start_decompress(&d);
	const int across = d.max_h_samp_factor, down = d.max_v_samp_factor, lines = down * DCTSIZE;
	const head h = {d.output_width, d.output_height, d.num_components, across, down, lines};
	if (!tell(to, &h, sizeof h))
		return 0;
	JSAMPROW rows[3][2 * DCTSIZE];
	JSAMPARRAY channels[3] = {rows[0], rows[1], rows[2]};
	size_t width[3];
	const size_t most = (h.w + across * DCTSIZE) * (size_t)lines;
	uint8_t *packed = malloc(most);
	for (int i = 0; i < h.planes; i++) {
		uint8_t *stored = malloc(most);
		if (!packed || !stored)
			return 0;
		width[i] = i == 0 ? h.w : (h.w + across - 1) / across;
		for (int y = 0; y < 2 * DCTSIZE; y++)
			rows[i][y] = stored + y % lines * (most / lines);
	}
	while (d.output_scanline < d.output_height) {
		const int left = h.h - d.output_scanline, now = left < lines ? left : lines;
		jpeg_read_raw_data(&d, channels, lines);
		for (int i = 0; i < h.planes; i++)
			if (!stripe(to, rows[i], i == 0 ? now : (now + down - 1) / down, width[i], packed))
				return 0;
	}
	jpeg_finish_decompress(&d);
	return d.err->num_warnings == 0;
}
