// Package pages takes memory for a picture in large pages, where the system has them for the asking: a page
// of 2 MB is handed out once, where 512 small ones are asked for one by one, each as it is first written to.
//
// What may live here: how memory is asked for. What may not: what it is for. It knows nobody.
package pages
