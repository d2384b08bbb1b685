package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"

	"gaitwright/internal/click"
	"gaitwright/internal/video"
)

// ClickPattern is what a click track holds, and ClickSound how it sounds.
type (
	ClickPattern = click.Pattern
	ClickSound   = click.Sound
)

// ClickFormats are the endings of files that MakeClick can write; all but wav are
// made by ffmpeg.
var ClickFormats = []string{".wav", ".mp3", ".ogg", ".m4a"}

// MakeClick writes a click track. The ending of the file chooses the format.
func MakeClick(ctx context.Context, p click.Pattern, file string) error {
	if err := p.Check(); err != nil {
		return &Problem{Kind: KindUsage, What: err.Error(), Err: err}
	}
	ending := strings.ToLower(filepath.Ext(file))
	if !slices.Contains(ClickFormats, ending) {
		return problem(KindUsage, file, "End the name in "+strings.Join(ClickFormats, ", ")+".", "the ending %q is not known", ending)
	}
	if ending == ".wav" {
		return WriteFileWhole(file, func(w io.Writer) error { return click.Write(w, p) })
	}
	ffmpeg, err := video.LocateFFmpeg(ctx)
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case errors.Is(err, video.ErrFaulty):
		return videoProblem(file, err)
	case err != nil:
		return &Problem{Kind: KindNotInstalled, File: file, What: "ffmpeg is not installed, which makes " + ending + " files", Mend: "Install it (see `gaitwright check`), or write a .wav file.", Err: err}
	}
	temp, err := os.MkdirTemp(filepath.Dir(file), ".gaitwright-click-*")
	if err != nil {
		return unwritable(file, err)
	}
	defer os.RemoveAll(temp)
	made := filepath.Join(temp, "click"+ending)
	read, write := io.Pipe()
	cmd := exec.CommandContext(ctx, ffmpeg, "-hide_banner", "-loglevel", "error", "-nostdin", "-f", "wav", "-i", "pipe:0", "-bitexact", "-y", made)
	cmd.Args = slices.Insert(cmd.Args, len(cmd.Args)-2, quality(ending)...)
	cmd.Stdin = read
	var said strings.Builder
	cmd.Stderr = &said
	go func() { write.CloseWithError(click.Write(write, p)) }()
	if err := cmd.Run(); err != nil {
		read.Close()
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if fault := video.Starts(ctx, ffmpeg); fault != nil {
			return videoProblem(file, fault)
		}
		return &Problem{Kind: KindUnexpected, File: file, What: fmt.Sprintf("ffmpeg could not make it: %s", firstLine(said.String())), Mend: "Write a .wav file instead.", Err: err}
	}
	if err := os.Rename(made, file); err != nil {
		return unwritable(file, err)
	}
	return nil
}

func quality(ending string) []string {
	switch ending {
	case ".ogg":
		return []string{"-c:a", "libvorbis", "-q:a", "3"}
	case ".mp3":
		return []string{"-q:a", "5"}
	}
	return []string{"-b:a", "96k"}
}

func firstLine(s string) string {
	line, _, _ := strings.Cut(strings.TrimSpace(s), "\n")
	return line
}
