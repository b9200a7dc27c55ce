package photo

import _ "unsafe" // for go:linkname

// heicDynamic is the heic package's own switch: true where it found libheif.so
// at start-up and would decode with it inside this process. It is turned off,
// since a crash in it would end the process, and v0.4.5 never frees its
// pictures; package native decodes with the system's libde265 in a fork. What is
// left for the heic package is libheif 1.18.2, compiled to WebAssembly and walled
// in. Building with the tag nodynamic does the same and also spares the
// search for the library at start-up.
//
//go:linkname heicDynamic github.com/gen2brain/heic.dynamic
var heicDynamic bool

func init() { heicDynamic = false }
