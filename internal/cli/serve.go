package cli

import (
	"bufio"
	"context"
	"io"
	"os"
	"os/exec"
	"runtime"
	"strings"

	"golang.org/x/term"

	"gaitwright/internal/app"
)

// ServeRequest says how the pages are to be served.
type ServeRequest struct {
	// Listen is the address for this machine as host:port; the host is of the
	// loopback.
	Listen string
	// LAN lets other devices of the network in by the studio's passphrase.
	LAN bool
	// Ready is called once the pages can be opened.
	Ready func(Served)
}

// Served tells where the pages are.
type Served struct {
	URL string // for this machine
	// For other devices, where they are let in: addresses, the likeliest first,
	// the certificate's fingerprint, and the first address as a code to film, for
	// a terminal.
	LAN               []string
	Fingerprint, Code string
}

type serveCommand struct {
	Listen        string `help:"Address for this machine; a port that is taken is replaced by a free one." default:"127.0.0.1:8787"`
	Open          bool   `help:"Open the browser."`
	LAN           bool   `name:"lan" help:"Let tablets and phones of the studio's network in too, encrypted and by a passphrase, which is asked for the first time."`
	NewPassphrase bool   `help:"With --lan: ask for a new passphrase."`
}

// Run serves the pages until the program is stopped.
func (c *serveCommand) Run(r *run) error {
	studio, err := r.studio()
	if err != nil {
		return err
	}
	switch {
	case c.LAN:
		if err := r.passphrase(studio, c.NewPassphrase); err != nil {
			studio.Close()
			return err
		}
	case c.NewPassphrase:
		return &app.Problem{Kind: app.KindUsage, What: "--new-passphrase goes with --lan", Mend: "Write gaitwright serve --lan --new-passphrase."}
	}
	return r.serve(studio, ServeRequest{Listen: c.Listen, LAN: c.LAN}, "", c.Open)
}

func (r *run) serve(studio *app.Studio, ask ServeRequest, path string, open bool) error {
	ask.Ready = func(at Served) {
		r.printf("gaitwright is at %s%s (stop with Ctrl-C)\n", at.URL, path)
		if len(at.LAN) > 0 {
			r.tellLAN(at)
		}
		if open {
			openBrowser(at.URL + path)
		}
	}
	err := r.env.Serve(r.ctx, studio, ask)
	if r.ctx.Err() != nil {
		return nil // stopping the pages is how they end
	}
	return err
}

// tellLAN says how other devices come in.
func (r *run) tellLAN(at Served) {
	r.printf("Tablets and phones of this network: %s\n", at.LAN[0])
	for _, url := range at.LAN[1:] {
		r.printf("  where that does not answer:       %s\n", url)
	}
	if r.env.Terminal {
		r.say("\n%s", at.Code)
	}
	r.printf("The first time, the device warns that it does not know this machine. Look at the\n"+
		"certificate there: go on only where its SHA-256 fingerprint is\n  %s\n  %s\n", at.Fingerprint[:len(at.Fingerprint)/2], at.Fingerprint[len(at.Fingerprint)/2+1:])
}

// passphrase sees to it that the studio has one.
func (r *run) passphrase(studio *app.Studio, anew bool) error {
	has, err := studio.HasPassphrase(r.ctx)
	if err != nil || has && !anew {
		return err
	}
	r.say("Choose a passphrase for the studio's other devices, of at least %d characters;\nfour words that do not belong together are easy to keep and hard to guess.", app.MinPassphrase)
	_, err = r.twice(func(text string) error { return studio.SetPassphrase(r.ctx, text) })
	return err
}

// twice asks for a new passphrase, twice where a person types it, until it is good.
func (r *run) twice(good func(string) error) (string, error) {
	for {
		text, err := r.secret("Passphrase: ")
		if err != nil {
			return "", err
		}
		if r.env.Interactive {
			again, err := r.secret("Once more:  ")
			if err != nil {
				return "", err
			}
			if again != text {
				r.say("The two are not the same; type it again.")
				continue
			}
		}
		err = good(text)
		if err == nil || !r.env.Interactive || app.KindOf(err) != app.KindUsage {
			return text, err
		}
		r.say("%v", err)
	}
}

// secret asks for a line that is not shown as it is typed; from a script it is
// the next line of standard input.
func (r *run) secret(prompt string) (string, error) {
	f, ok := r.env.Stdin.(*os.File)
	if !r.env.Interactive || !ok {
		line, err := bufio.NewReader(io.LimitReader(r.env.Stdin, 4<<10)).ReadString('\n')
		if err != nil && line == "" {
			return "", &app.Problem{Kind: app.KindAskBack, What: "a passphrase is needed, and nobody is here to type it", Mend: "Do it once at a terminal, or give the passphrase on standard input."}
		}
		return strings.TrimRight(line, "\r\n"), nil
	}
	fd := int(f.Fd())
	was, err := term.GetState(fd)
	if err != nil {
		return "", err
	}
	io.WriteString(r.env.Stderr, prompt)
	type answer struct {
		text []byte
		err  error
	}
	got := make(chan answer, 1)
	go func() {
		text, err := term.ReadPassword(fd)
		got <- answer{text, err}
	}()
	select {
	case a := <-got:
		io.WriteString(r.env.Stderr, "\n")
		return string(a.text), a.err
	case <-r.ctx.Done():
		term.Restore(fd, was)
		io.WriteString(r.env.Stderr, "\n")
		return "", context.Cause(r.ctx)
	}
}

// openBrowser asks the system to show an address; where it cannot, the printed
// address is enough.
func openBrowser(url string) {
	var cmd *exec.Cmd
	switch runtime.GOOS {
	case "windows":
		cmd = exec.Command("rundll32", "url.dll,FileProtocolHandler", url)
	case "darwin":
		cmd = exec.Command("open", url)
	default:
		cmd = exec.Command("xdg-open", url)
	}
	if cmd.Start() == nil {
		go cmd.Wait()
	}
}
