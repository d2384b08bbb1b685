package cli

import (
	_ "embed"
	"strings"

	"github.com/alecthomas/kong"

	"gaitwright/internal/app"
)

type completionCommand struct {
	Shell string `arg:"" help:"Your shell." enum:"bash,zsh,fish,powershell"`
}

var (
	//go:embed completion/bash.sh
	completionBash string
	//go:embed completion/zsh.sh
	completionZsh string
	//go:embed completion/fish.fish
	completionFish string
	//go:embed completion/powershell.ps1
	completionPowerShell string
)

// Run prints the script for the shell. The scripts ask the program itself, so that
// they stay right when it changes.
func (c *completionCommand) Run(r *run) error {
	r.printf("%s", map[string]string{"bash": completionBash, "zsh": completionZsh, "fish": completionFish, "powershell": completionPowerShell}[c.Shell])
	return nil
}

// completeCommand is asked by the scripts of completion: what may stand where Last
// stands, a line each, with a tab and what it means.
type completeCommand struct {
	Last  string   `help:"The word that is being typed."`
	Words []string `arg:"" optional:"" help:"The words before it, without the program."`
}

// Run prints the candidates. Nothing printed leaves the shell to its file names.
func (c *completeCommand) Run(r *run) error {
	for _, x := range complete(r.model, c.Words, c.Last) {
		r.printf("%s\t%s\n", x.word, x.means)
	}
	return nil
}

type candidate struct{ word, means string }

// complete lists what may stand after words in the place of last, all that begins
// as last does.
func complete(model *kong.Application, words []string, last string) []candidate {
	// Some shells split --flag=value into three words.
	if last == "=" {
		words, last = append(append([]string{}, words...), "="), ""
	}
	node := model.Node
	var value *kong.Value // that the next word is of
	plain := 0            // words of the command that are not options
	for _, w := range words {
		switch {
		case w == "=" && value != nil:
		case value != nil:
			value = nil
		case w == "--":
			return nil
		case strings.HasPrefix(w, "-"):
			name, _, has := strings.Cut(w, "=")
			if f := flagOf(node, name); f != nil && !f.IsBool() && !has {
				value = f.Value
			}
		default:
			if child := childOf(node, w); child != nil {
				node, plain = child, 0
			} else {
				plain++
			}
		}
	}
	var all []candidate
	if name, typed, has := strings.Cut(last, "="); has && strings.HasPrefix(last, "--") && value == nil {
		if f := flagOf(node, name); f != nil {
			for _, c := range valuesOf(f.Value) {
				if strings.HasPrefix(c.word, typed) {
					all = append(all, candidate{name + "=" + c.word, c.means})
				}
			}
		}
		return all
	}
	switch {
	case value != nil:
		all = valuesOf(value)
	case strings.HasPrefix(last, "-"):
		for _, n := range flagHolders(node) {
			for _, f := range ownFlags(n) {
				all = append(all, candidate{"--" + f.Name, f.Help})
			}
		}
	default:
		for _, n := range node.Children {
			if n.Type == kong.CommandNode && !n.Hidden && plain == 0 {
				all = append(all, candidate{n.Name, n.Help})
			}
		}
		if plain < len(node.Positional) {
			all = append(all, valuesOf(node.Positional[plain])...)
		}
	}
	var out []candidate
	for _, c := range all {
		if strings.HasPrefix(c.word, last) {
			out = append(out, c)
		}
	}
	return out
}

func childOf(n *kong.Node, name string) *kong.Node {
	for _, c := range n.Children {
		if c.Name == name && !c.Hidden {
			return c
		}
	}
	return nil
}

// flagHolders are the nodes whose options may stand at n: the command that it stands
// for where none is named, its own, and those above it.
func flagHolders(n *kong.Node) []*kong.Node {
	var out []*kong.Node
	if d := n.DefaultCmd; d != nil && d.Tag.Default == "withargs" {
		out = append(out, d)
	}
	for ; n != nil; n = n.Parent {
		out = append(out, n)
	}
	return out
}

// flagOf finds a flag as it is typed, of the command or of the program.
func flagOf(n *kong.Node, typed string) *kong.Flag {
	for _, n := range flagHolders(n) {
		for _, f := range n.Flags {
			if "--"+f.Name == typed || f.Short != 0 && "-"+string(f.Short) == typed {
				return f
			}
		}
	}
	return nil
}

// valuesOf lists the values that are known: of an enumeration, and names of measures
// where the tag complete asks for them.
func valuesOf(v *kong.Value) []candidate {
	var out []candidate
	for _, e := range v.EnumSlice() {
		if e != "" {
			out = append(out, candidate{e, ""})
		}
	}
	if v.Tag.Get("complete") == "measure" {
		for _, m := range app.MeasureNames() {
			out = append(out, candidate{m.Name, m.Title})
		}
	}
	return out
}
