// Package docs holds the handbook: the pages of this folder as they are written,
// for the program to show where there is no network.
package docs

import "embed"

// Pages are the handbook's pages in Markdown, by file name; README.md is the first.
//
//go:embed *.md
var Pages embed.FS
