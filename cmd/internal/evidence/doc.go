// Package evidence holds the program to photos whose truth is known, and says how well it read them: by kind
// of pad and shape of imprint, how many were accepted, how far off they were, and whether the truth lay
// inside U.
//
// It measures as everybody does, by the program's own command line, and sees nothing but what that prints. A
// photo that went to review or was refused counts as not accepted, whatever its number. Nothing here is ever
// averaged over sets.
//
// It knows no other package of ours.
package evidence
