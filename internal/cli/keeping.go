package cli

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"gaitwright/internal/app"
)

type backupCommand struct {
	File  string `arg:"" help:"File to write, its name ending in .age." type:"path"`
	Check bool   `help:"Read a backup to its end and check it, instead of writing one."`
}

// Run writes the studio into one encrypted file, or checks one.
func (c *backupCommand) Run(r *run) error {
	if c.Check {
		return r.fromBackup(c.File, "whole", app.VerifyBackup)
	}
	if err := app.CheckOutput(c.File, app.BackupEnding); err != nil {
		return err
	}
	studio, err := r.studio()
	if err != nil {
		return err
	}
	r.say("Choose a passphrase of at least %d characters. Write it down and keep it apart from the backup:\nwithout it nobody can open it.", app.MinPassphrase)
	words, err := r.twice(app.GoodPassphrase)
	if err != nil {
		return err
	}
	bar := newProgress(r.env.Stderr, r.env.Terminal)
	made, err := studio.BackupTo(r.ctx, c.File, words, bar)
	bar.Done()
	if err != nil {
		return err
	}
	r.printBackup("written", c.File, made)
	return nil
}

func (r *run) printBackup(what, file string, b app.PageBackup) {
	r.printf("%-9s %s\n%-9s %s, %s\nmade      %s by %s\n", what, file, "holds", count(b.Runners, "runner", "runners"), count(b.Files, "file", "files"), b.Made, b.Program)
	if b.Studio != "" {
		r.printf("studio    %s\n", b.Studio)
	}
	if b.Missing > 0 {
		r.printf("missing   %s that the records name were not in the folder\n", count(b.Missing, "file", "files"))
	}
	for _, path := range b.Kept {
		r.printf("left      %s differs from the one in the backup and was left as it is\n", path)
	}
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

type restoreCommand struct {
	File string `arg:"" help:"Backup to put back." type:"path"`
}

// Run puts a backup into a studio that holds nothing.
func (c *restoreCommand) Run(r *run) error {
	studio, err := r.studio()
	if err != nil {
		return err
	}
	return r.fromBackup(c.File, "restored", studio.Restore)
}

// backupReader is what reads a backup.
type backupReader func(ctx context.Context, from io.Reader, passphrase string, progress app.Progress) (app.PageBackup, error)

// fromBackup reads a backup with its passphrase.
func (r *run) fromBackup(file, what string, do backupReader) error {
	f, err := os.Open(file)
	if err != nil {
		return &app.Problem{Kind: app.KindUsage, File: file, What: "cannot be opened: " + err.Error(), Mend: "Check the name and the folder.", Err: err}
	}
	defer f.Close()
	words, err := r.secret("Passphrase of the backup: ")
	if err != nil {
		return err
	}
	bar := newProgress(r.env.Stderr, r.env.Terminal)
	b, err := do(r.ctx, bufio.NewReaderSize(f, 1<<20), words, bar)
	bar.Done()
	if err != nil {
		return err
	}
	r.printBackup(what, file, b)
	return nil
}

type eraseCommand struct {
	Runner string `arg:"" help:"The runner's name, or ID."`
}

// Run erases a runner for good, after asking for the name.
func (c *eraseCommand) Run(r *run) error {
	studio, err := r.studio()
	if err != nil {
		return err
	}
	one, err := studio.FindRunner(r.ctx, c.Runner)
	if err != nil {
		return err
	}
	ask, err := studio.ErasePreview(r.ctx, one.ID)
	if err != nil {
		return err
	}
	r.say("%s\n\nType the name to erase it, or nothing to leave all as it is.", wrap(ask.Text, "", pageWidth))
	if r.env.Interactive {
		io.WriteString(r.env.Stderr, "Name: ")
	}
	name, err := bufio.NewReader(io.LimitReader(r.env.Stdin, 4<<10)).ReadString('\n')
	if name = strings.TrimSpace(name); name == "" {
		return &app.Problem{Kind: app.KindAskBack, What: "no name was typed; nothing was erased", Err: err}
	}
	done, err := studio.EraseRunner(r.ctx, deviceName(), one.ID, name)
	if err != nil {
		return err
	}
	r.printf("%s\n", wrap(done.Text, "", pageWidth))
	return nil
}

// deviceName names who works at the command line.
func deviceName() string {
	host, _ := os.Hostname()
	return strings.TrimSpace("command line " + host)
}

type takeawayCommand struct {
	Runner string `arg:"" help:"The runner's name, or ID."`
	File   string `arg:"" optional:"" help:"File to write, its name ending in .zip; named after the runner where it is left out." type:"path"`
}

// Run writes everything that is kept of a runner into one archive.
func (c *takeawayCommand) Run(r *run) error {
	studio, err := r.studio()
	if err != nil {
		return err
	}
	one, err := studio.FindRunner(r.ctx, c.Runner)
	if err != nil {
		return err
	}
	if c.File == "" {
		if c.File, err = filepath.Abs(app.ExportName(one.Name, time.Now())); err != nil {
			return err
		}
	}
	if err := app.CheckOutput(c.File, ".zip"); err != nil {
		return err
	}
	err = app.WriteFileWhole(c.File, func(w io.Writer) error { return studio.ExportRunner(r.ctx, w, one.ID) })
	if err != nil {
		return err
	}
	if err := studio.Saw(r.ctx, deviceName(), "runners", one.ID, "records"); err != nil {
		return err
	}
	r.printf("written   %s\n", c.File)
	return nil
}

type trailCommand struct {
	Runner string `arg:"" optional:"" help:"The runner's name, or ID; everybody where it is left out."`
}

// Run lists who saw and changed what.
func (c *trailCommand) Run(r *run) error {
	studio, err := r.studio()
	if err != nil {
		return err
	}
	id := ""
	if c.Runner != "" {
		one, err := studio.FindRunner(r.ctx, c.Runner)
		if err != nil {
			return err
		}
		id = one.ID
	}
	lines, err := studio.Trail(r.ctx, id)
	if err != nil {
		return err
	}
	for _, l := range lines {
		kind, who := "did", l.Who
		if l.Saw {
			kind = "saw"
		}
		if who == "" {
			who = "-"
		}
		r.printf("%s  %-3s  %-20s  %s\n", l.At, kind, who, l.What)
		if l.UndoneAt != nil {
			r.printf("%s  undone by %s\n", strings.Repeat(" ", len(l.At)), l.UndoneBy)
		}
	}
	return nil
}
