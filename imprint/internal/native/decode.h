// Decoders in a fork of this process; see doc.go.
#ifndef SITSPAN_DECODE_H
#define SITSPAN_DECODE_H

#include <stddef.h>
#include <stdint.h>

// plane is a channel of a decoded picture: w x h samples, rows `stride` bytes apart, from `at` on in the
// picture's memory.
typedef struct {
	int64_t at;
	int32_t w, h, stride;
} plane;

// decoded is a picture as stored: one plane of luma, or three with chroma.
typedef struct {
	int32_t done; // 0: not decoded
	int32_t w, h, planes;
	plane plane[3];
} decoded;

enum { CRASH = 0, JPEG_FILE = 1, HEIC_FILE = 2 }; // CRASH, for tests, is a decoder that ends at once

// room is how much memory a picture of w x h pixels may take.
size_t room(int32_t w, int32_t h);

// decode_apart decodes a file of w x h pixels, as its header says, in a fork. `memory` is shared, room(w, h)
// bytes. It allows so many seconds. It returns 0 where it could not be decoded, for whatever reason.
int decode_apart(int kind, const uint8_t *file, size_t size, int32_t w, int32_t h, void *memory, int seconds,
	decoded *result);

// has_heif loads the system's libheif; 0 where there is none. It is called once.
int has_heif(void);

// The decoders, which run in the fork.
int decode_jpeg(const uint8_t *file, size_t size, uint8_t *memory, size_t bytes, decoded *result);
int decode_heif(const uint8_t *file, size_t size, uint8_t *memory, size_t bytes, decoded *result);

void *share(size_t bytes); // NULL where there is no memory
void unshare(void *memory, size_t bytes);

#endif
