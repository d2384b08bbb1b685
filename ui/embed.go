// Package ui holds the browser page as it was built from the TypeScript and
// Svelte sources beside it. The build is committed, so that the program needs no
// Node to be compiled; `npm run verify` in this folder rebuilds it and fails
// where the result differs.
package ui

import (
	"embed"
	"io/fs"
)

//go:embed all:dist
var dist embed.FS

// Dist returns the built page: index.html at its root and everything else,
// named by content, under assets.
func Dist() fs.FS {
	sub, err := fs.Sub(dist, "dist")
	if err != nil {
		panic("ui: the embedded build has no folder dist: " + err.Error())
	}
	return sub
}
