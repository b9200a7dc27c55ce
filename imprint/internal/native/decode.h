// Decoders in a fork of this process, and an encoder; see doc.go.
#ifndef SITSPAN_DECODE_H
#define SITSPAN_DECODE_H

#include <stddef.h>
#include <stdint.h>
#include <sys/types.h>

// head is what a fork writes first of a picture of w x h pixels: its planes, one of luma or three with
// chroma, each chroma sample for `across` x `down` of luma. Then come stripes of `lines` lines of luma, each
// followed by those of chroma that belong to them, a byte a sample, and last DONE.
typedef struct {
	int32_t w, h, planes, across, down, lines;
} head;

enum { DONE = 0x5a };
enum { JPEG_FILE = 1, HEVC_TILES = 2 };
enum { CRASH = 0, HUNGRY = 3, STUCK = 4 }; // for tests; see apart.c

// task is a picture of w x h pixels to be decoded: of what kind, in so many seconds of processor time at
// most, and, where it is made of tiles, of what size they are and by how many threads.
typedef struct {
	int32_t kind, w, h, tile_w, tile_h, threads, seconds;
} task;

// decode_apart starts a fork that decodes a file, or a stream of tiles, and writes it to the pipe whose end
// for reading it puts into *from. -1 where there can be no fork.
pid_t decode_apart(const uint8_t *file, size_t size, const task *t, int *from);

// wait_for waits for a fork, ended first where `now` is set, and tells whether it ended well.
int wait_for(pid_t fork, int now);

// has_hevc loads the system's libde265; 0 where there is none. It is called once.
int has_hevc(void);

// The decoders, which run in the fork; 1 where all is written, but for DONE.
int decode_jpeg(const uint8_t *file, size_t size, int to);
int decode_hevc(const uint8_t *stream, const task *t, int to);

// encode_jpeg writes w x h pixels of red, green, blue and a byte that is ignored as a JPEG, which the caller
// frees; 0 where it cannot.
int encode_jpeg(const uint8_t *pixels, int w, int h, int stride, int quality, uint8_t **file, size_t *size);

// tell writes all of some bytes; 0 where nobody reads them.
int tell(int to, const void *bytes, size_t n);

#endif
