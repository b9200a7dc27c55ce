#include "decode.h"

#include <dlfcn.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>

// What is used of libde265's interface, since version 1.0, as its de265.h declares it. Its headers are not
// needed to build, nor the library to run.
static struct {
	int (*init)(void);
	void *(*decoder)(void);
	int (*push)(void *decoder, const void *unit, int size, int64_t time, void *of_user);
	int (*flush)(void *decoder);
	int (*decode)(void *decoder, int *more);
	int (*warning)(void *decoder);
	const void *(*next)(void *decoder);
	int (*end)(void *decoder);
	int (*chroma)(const void *picture);
	int (*width)(const void *picture, int channel);
	int (*height)(const void *picture, int channel);
	int (*bits)(const void *picture, int channel);
	const uint8_t *(*plane)(const void *picture, int channel, int *stride);
} hevc;

enum { CHROMA_420 = 1 };     // what phones store
enum { STACK = 1 << 20 };    // bytes for a thread; the system's 8 MB for each count as memory in use
enum { MOST_THREADS = 8 };

static int find(void *library, const char *name, void *to)
{
	void *symbol = dlsym(library, name);
	memcpy(to, &symbol, sizeof symbol);
	return symbol != NULL;
}

int has_hevc(void)
{
	void *library = dlopen("libde265.so.0", RTLD_NOW | RTLD_LOCAL);
	return library && find(library, "de265_init", &hevc.init) &&
		find(library, "de265_new_decoder", &hevc.decoder) && find(library, "de265_push_NAL", &hevc.push) &&
		find(library, "de265_flush_data", &hevc.flush) && find(library, "de265_decode", &hevc.decode) &&
		find(library, "de265_get_warning", &hevc.warning) &&
		find(library, "de265_get_next_picture", &hevc.next) &&
		find(library, "de265_free_decoder", &hevc.end) &&
		find(library, "de265_get_chroma_format", &hevc.chroma) &&
		find(library, "de265_get_image_width", &hevc.width) &&
		find(library, "de265_get_image_height", &hevc.height) &&
		find(library, "de265_get_bits_per_pixel", &hevc.bits) &&
		find(library, "de265_get_image_plane", &hevc.plane) && hevc.init() == 0;
}

// work is a picture that threads put together of its tiles, each taking the next.
typedef struct {
	const task *of;
	int across, down;
	const uint8_t **tiles; // where each one's units begin
	uint8_t *planes[3];
	pthread_mutex_t lock;
	pthread_cond_t change;
	int next, wrong; // under the lock, as are
	int *left;       // tiles to come in each row of them
} work;

static uint32_t number(const uint8_t *p) { return (uint32_t)p[0] << 24 | p[1] << 16 | p[2] << 8 | p[3]; }

static int half(int n, int chroma) { return chroma ? (n + 1) / 2 : n; }

// paste copies what shows of a tile to its place.
static int paste(const work *w, int tile, const void *picture)
{
	const task *t = w->of;
	const int x = tile % w->across * t->tile_w, y = tile / w->across * t->tile_h;
	if (hevc.chroma(picture) != CHROMA_420)
		return 0;
	for (int i = 0; i < 3; i++) {
		int stride;
		const uint8_t *from = hevc.plane(picture, i, &stride);
		const int wide = half(t->tile_w, i), high = half(t->tile_h, i), row = half(t->w, i), x0 = half(x, i);
		if (!from || hevc.bits(picture, i) != 8 || hevc.width(picture, i) != wide ||
			hevc.height(picture, i) != high)
			return 0;
		const int n = row - x0 < wide ? row - x0 : wide;
		for (int y0 = half(y, i), k = 0; k < high && y0 + k < half(t->h, i); k++)
			memcpy(w->planes[i] + (size_t)(y0 + k) * row + x0, from + (size_t)k * stride, n);
	}
	return 1;
}

// decode_tile is strict: at the first error or warning the file is left to another decoder.
static int decode_tile(const work *w, int tile)
{
	void *decoder = hevc.decoder();
	const void *picture = NULL;
	if (!decoder)
		return 0;
	for (const uint8_t *u = w->tiles[tile]; number(u) > 0; u += 4 + number(u))
		if (hevc.push(decoder, u + 4, number(u), 0, NULL) != 0)
			return 0;
	if (hevc.flush(decoder) != 0)
		return 0;
	for (int more = 1; more;) {
		if (hevc.decode(decoder, &more) != 0)
			return 0;
		const void *next = hevc.next(decoder);
		if (picture && next)
			return 0;
		picture = next ? next : picture;
	}
	const int ok = picture && hevc.warning(decoder) == 0 && paste(w, tile, picture);
	hevc.end(decoder);
	return ok;
}

static void *decode_tiles(void *of)
{
	work *w = of;
	pthread_mutex_lock(&w->lock);
	while (!w->wrong && w->next < w->across * w->down) {
		const int tile = w->next++;
		pthread_mutex_unlock(&w->lock);
		const int ok = decode_tile(w, tile);
		pthread_mutex_lock(&w->lock);
		w->wrong |= !ok;
		w->left[tile / w->across]--;
		pthread_cond_signal(&w->change);
	}
	pthread_mutex_unlock(&w->lock);
	return NULL;
}

// ready waits for a row of tiles.
static int ready(work *w, int row)
{
	pthread_mutex_lock(&w->lock);
	while (!w->wrong && w->left[row] > 0)
		pthread_cond_wait(&w->change, &w->lock);
	const int ok = !w->wrong;
	pthread_mutex_unlock(&w->lock);
	return ok;
}

// prepare finds the tiles in the stream, whose lengths the caller made, and takes memory.
static int prepare(work *w, const uint8_t *stream)
{
	const task *t = w->of;
	const int n = w->across * w->down;
	w->tiles = calloc(n, sizeof *w->tiles);
	w->left = calloc(w->down, sizeof *w->left);
	for (int i = 0; i < 3; i++)
		if (!(w->planes[i] = malloc((size_t)half(t->w, i) * half(t->h, i))))
			return 0;
	if (!w->tiles || !w->left)
		return 0;
	for (int k = 0; k < n; k++) {
		w->tiles[k] = stream;
		for (; number(stream) > 0;)
			stream += 4 + number(stream);
		stream += 4;
		w->left[k / w->across]++;
	}
	return 1;
}

static int start(work *w, int threads)
{
	pthread_attr_t small;
	if (pthread_attr_init(&small) != 0 || pthread_attr_setstacksize(&small, STACK) != 0)
		return 0;
	for (int k = 0; k < threads; k++) {
		pthread_t thread;
		if (pthread_create(&thread, &small, decode_tiles, w) != 0)
			return k > 0;
	}
	return 1;
}

int decode_hevc(const uint8_t *stream, const task *t, int to)
{
	work w = {.of = t, .across = (t->w + t->tile_w - 1) / t->tile_w, .down = (t->h + t->tile_h - 1) / t->tile_h,
		.lock = PTHREAD_MUTEX_INITIALIZER, .change = PTHREAD_COND_INITIALIZER};
	const int tiles = w.across * w.down, most = tiles < MOST_THREADS ? tiles : MOST_THREADS;
	const int lines = w.down == 1 ? t->h : t->tile_h;
	const head h = {t->w, t->h, 3, 2, 2, lines};
	if (!prepare(&w, stream) || !start(&w, t->threads < most ? t->threads : most) || !tell(to, &h, sizeof h))
		return 0;
	for (int row = 0; row < w.down; row++) {
		if (!ready(&w, row))
			return 0;
		const int y = row * lines, now = t->h - y < lines ? t->h - y : lines;
		for (int i = 0; i < 3; i++)
			if (!tell(to, w.planes[i] + (size_t)half(y, i) * half(t->w, i), (size_t)half(now, i) * half(t->w, i)))
				return 0;
	}
	return 1;
}
