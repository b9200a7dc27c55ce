// Package statistics is what old readings and new measurements say of the old way:
// bias, limits of agreement, drift, repeatability and outliers, in mm.
//
// What may live here: reading a readings' file, and arithmetic on pairs of numbers,
// each formula with its source. What may not: folders, records, pictures, rows and
// words for people; a file is a name here and no more.
package statistics
