// Package desk is the shop's page: rider in, photo from the phone, centres
// confirmed or moved, width, sheet, record.
//
// Its opinion: the page is the shop's own and nobody else's. It listens on this
// computer only, uses nothing from the network, and lets a phone in only after
// its camera has seen a secret on the screen. A photo from outside is bytes
// until a child process has decoded it: what breaks a decoder costs one photo.
// What the page has confirmed is on the disk. A fitter's centre stands beside
// the automatic one, under the fitter's name.
//
//	guard.go    who may ask: host, cross-site, tokens, headers
//	pair.go     a phone's way in; cert.go its TLS
//	queue.go    who waits for the child process that decodes and measures
//	settings*.go  the shop's own pages, which write its file; proof*.go the known distance and its chart
//	backup.go   back-ups, and one in the data's place; aside.go what was deleted, with a way back
//	upload.go   photos in; page*.go a screen each; words*.go what they say
package desk
