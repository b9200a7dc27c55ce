#include "decode.h"

#include <dlfcn.h>
#include <string.h>

// What is used of libheif's interface, since version 1.4, as its heif.h declares it. Its headers are not
// needed to build, nor the library to run.
typedef struct {
	int code, subcode;
	const char *message;
} heif_error;

enum { YCBCR = 0, CHROMA_420 = 1 }; // what phones store; another picture is converted, its luma left alone

static struct {
	void *(*context)(void);
	heif_error (*read)(void *context, const void *file, size_t size, const void *options);
	heif_error (*primary)(void *context, void **handle);
	heif_error (*decode)(const void *handle, void **image, int colours, int chroma, const void *options);
	int (*width)(const void *image, int channel);
	int (*height)(const void *image, int channel);
	int (*bits)(const void *image, int channel);
	const uint8_t *(*plane)(const void *image, int channel, int *stride);
} heif;

static int find(void *library, const char *name, void *to)
{
	void *symbol = dlsym(library, name);
	memcpy(to, &symbol, sizeof symbol);
	return symbol != NULL;
}

int has_heif(void)
{
	void *library = dlopen("libheif.so.1", RTLD_NOW | RTLD_LOCAL);
	return library && find(library, "heif_context_alloc", &heif.context) &&
		find(library, "heif_context_read_from_memory_without_copy", &heif.read) &&
		find(library, "heif_context_get_primary_image_handle", &heif.primary) &&
		find(library, "heif_decode_image", &heif.decode) &&
		find(library, "heif_image_get_width", &heif.width) &&
		find(library, "heif_image_get_height", &heif.height) &&
		find(library, "heif_image_get_bits_per_pixel_range", &heif.bits) &&
		find(library, "heif_image_get_plane_readonly", &heif.plane);
}

int decode_heif(const uint8_t *file, size_t size, int to)
{
	void *context = heif.context(), *handle = NULL, *image = NULL;
	if (!context || heif.read(context, file, size, NULL).code || heif.primary(context, &handle).code ||
		heif.decode(handle, &image, YCBCR, CHROMA_420, NULL).code)
		return 0;
	const head h = {heif.width(image, 0), heif.height(image, 0), 3, 2, 2, heif.height(image, 0)};
	if (!tell(to, &h, sizeof h))
		return 0;
	for (int i = 0; i < h.planes; i++) {
		int stride;
		const uint8_t *from = heif.plane(image, i, &stride);
		const int wide = i == 0 ? h.w : (h.w + 1) / 2, high = i == 0 ? h.h : (h.h + 1) / 2;
		if (!from || heif.bits(image, i) != 8 || heif.width(image, i) != wide || heif.height(image, i) != high)
			return 0;
		for (int y = 0; y < high; y++)
			if (!tell(to, from + (size_t)y * stride, wide))
				return 0;
	}
	return 1;
}
