#include "decode.h"

#include <setjmp.h>
#include <stdio.h>

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

// lay gives each channel its place, whole blocks wide and high.
static int lay(struct jpeg_decompress_struct *d, size_t bytes, decoded *result)
{
	size_t at = 0;
	const int across = d->max_h_samp_factor * DCTSIZE, down = d->max_v_samp_factor * DCTSIZE;
	result->w = d->image_width, result->h = d->image_height, result->planes = d->num_components;
	for (int i = 0; i < d->num_components; i++) {
		const jpeg_component_info *c = &d->comp_info[i];
		plane *p = &result->plane[i];
		p->at = at;
		p->w = (d->image_width * c->h_samp_factor + d->max_h_samp_factor - 1) / d->max_h_samp_factor;
		p->h = (d->image_height * c->v_samp_factor + d->max_v_samp_factor - 1) / d->max_v_samp_factor;
		p->stride = (d->image_width + across - 1) / across * c->h_samp_factor * DCTSIZE;
		at += (size_t)p->stride * ((d->image_height + down - 1) / down * c->v_samp_factor * DCTSIZE);
	}
	return at <= bytes;
}

int decode_jpeg(const uint8_t *file, size_t size, uint8_t *memory, size_t bytes, decoded *result)
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
	if (!fits(&d) || !lay(&d, bytes, result))
		return 0;
	d.raw_data_out = TRUE;
	d.out_color_space = d.jpeg_color_space;
	jpeg_start_decompress(&d);
	const int lines = d.max_v_samp_factor * DCTSIZE;
	JSAMPROW rows[3][2 * DCTSIZE];
	JSAMPARRAY channels[3] = {rows[0], rows[1], rows[2]};
	while (d.output_scanline < d.output_height) {
		for (int i = 0; i < d.num_components; i++) {
			const int own = d.comp_info[i].v_samp_factor * DCTSIZE;
			const size_t first = d.output_scanline / lines * own;
			for (int y = 0; y < own; y++)
				rows[i][y] = memory + result->plane[i].at + (first + y) * result->plane[i].stride;
		}
		jpeg_read_raw_data(&d, channels, lines);
	}
	jpeg_finish_decompress(&d);
	return d.err->num_warnings == 0;
}
