// Package native decodes JPEG by libjpeg-turbo and the tiles of a HEIC by the system's libde265, where it is
// installed, in a third of the time that decoders in Go and WebAssembly take.
//
// Its opinion: such libraries are fast because they trust no compiler to check them, so a file from outside
// is never decoded in a process that has anything to lose. Each picture is decoded by a fork of this process
// that can do nothing but write to a pipe: a crash there, or too much memory or time, costs one attempt. The
// caller then asks the decoder in Go, whose word on a file is the last; so does whoever has no such library.
// What comes out are the planes as they are stored, not converted. A HEIC's boxes are read in Go; what comes
// here are its tiles, each decoded by one of some threads.
//
// A picture of our own is written as JPEG in this process, by the same library in a quarter of the time that
// Go's encoder takes: its pixels come from no stranger.
//
// What may live here: such decoders and their walls, and that encoder. What may not: what a file says beside
// its picture.
package native
