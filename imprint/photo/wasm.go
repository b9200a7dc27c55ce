package photo

import _ "unsafe" // for go:linkname

// heicDynamic is the heic package's own switch: true where it found libheif.so
// at start-up and would decode with it inside this process. It is turned off,
// so that every machine decodes with the same libheif 1.18.2, compiled to
// WebAssembly and walled in: a system's libheif 1.15.1 gave other grey levels
// for pictures of studio swing, a crash in it would end the process, and v0.4.5
// never frees its pictures. It costs speed (libheif.so is about three times as
// fast). Building with the tag nodynamic does the same and also spares the
// search for the library at start-up.
//
//go:linkname heicDynamic github.com/gen2brain/heic.dynamic
var heicDynamic bool

func init() { heicDynamic = false }
