//go:build !race

package fit

const raceEnabled = false
