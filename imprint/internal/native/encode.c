#include "decode.h"

#include <setjmp.h>
#include <stdio.h>

#include <jpeglib.h>

typedef struct {
	struct jpeg_error_mgr by_the_library;
	jmp_buf back;
} gives_up;

static void give_up(j_common_ptr c) { longjmp(((gives_up *)c->err)->back, 1); }

static void keep_quiet(j_common_ptr c, int level)
{
	(void)c, (void)level;
}

int encode_jpeg(const uint8_t *pixels, int w, int h, int stride, int quality, uint8_t **file, size_t *size)
{
	struct jpeg_compress_struct c;
	gives_up e;
	unsigned char *out = NULL;
	unsigned long n = 0;
	c.err = jpeg_std_error(&e.by_the_library);
	e.by_the_library.error_exit = give_up;
	e.by_the_library.emit_message = keep_quiet;
	if (setjmp(e.back)) {
		jpeg_destroy_compress(&c);
		return 0;
	}
	jpeg_create_compress(&c);
	jpeg_mem_dest(&c, &out, &n);
	c.image_width = w, c.image_height = h;
	c.input_components = 4, c.in_color_space = JCS_EXT_RGBX;
	jpeg_set_defaults(&c);
	jpeg_set_quality(&c, quality, TRUE);
	c.write_JFIF_header = FALSE; // the pixels, and nothing else
	jpeg_start_compress(&c, TRUE);
	while (c.next_scanline < c.image_height) {
		JSAMPROW row = (JSAMPROW)(pixels + (size_t)c.next_scanline * stride);
		jpeg_write_scanlines(&c, &row, 1);
	}
	jpeg_finish_compress(&c);
	jpeg_destroy_compress(&c);
	*file = out, *size = n;
	return 1;
}
