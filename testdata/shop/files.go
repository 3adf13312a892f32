// Package shop holds the files of the invented shop, for the program to show
// itself with.
package shop

import "embed"

// Files are the shop's files as they stand in this folder.
//
//go:embed *.csv *.yaml products zones booths
var Files embed.FS
