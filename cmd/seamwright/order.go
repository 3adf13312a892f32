package main

import (
	"slices"
	"strings"

	"github.com/alecthomas/kong"

	"seamwright/services/fault"
)

// order puts the words before the flags, so that flags may stand anywhere,
// and joins each flag to its value, so that a value may begin with a minus.
// A word may too if it is a number: those stand behind a "--", which ends the
// flags. A flag that no command has is refused here, since its value could
// not be told from a word, and so is an empty value, which would pass for a
// flag that was not given.
func order(args []string, root *kong.Node) ([]string, error) {
	switches, other := make(map[string]bool), make(map[string]string) // by name: takes no value; by another name: its own
	blank := make(map[string]bool)                                    // by name: may have an empty value
	collect(root, switches, other, blank)
	var words, flags []string
	seen := make(map[string]bool)
	for i := 0; i < len(args); i++ {
		arg := args[i]
		name, long := strings.CutPrefix(arg, "--")
		switch {
		case arg == "--":
			words = append(words, args[i+1:]...)
			i = len(args)
		case long:
			bare, value, joined := strings.Cut(name, "=")
			isSwitch, known := switches[bare]
			if own, ok := other[bare]; ok {
				isSwitch, known, bare = switches[own], true, own
			}
			if !known {
				return nil, fault.Bad("--"+bare, "unknown flag", "see seamwright --help")
			}
			if seen[bare] {
				return nil, fault.Bad("--"+bare, "given twice", "each flag once")
			}
			seen[bare] = true
			if !isSwitch && !joined && i+1 < len(args) {
				i++
				value, joined = args[i], true
				arg += "=" + value
			}
			if joined && value == "" && !blank[bare] {
				return nil, fault.Bad("--"+bare, "(empty)", "a value; give one, or leave the flag out")
			}
			flags = append(flags, arg)
		case len(arg) > 1 && arg[0] == '-' && !negative(arg):
			flags = append(flags, arg)
		default:
			words = append(words, arg)
		}
	}
	first := slices.IndexFunc(words, negative)
	if first < 0 {
		return append(words, flags...), nil
	}
	return slices.Concat(words[:first], flags, []string{"--"}, words[first:]), nil
}

// negative reports whether a word begins like a number below 0.
func negative(word string) bool {
	return len(word) > 1 && word[0] == '-' && (word[1] == '.' || word[1] >= '0' && word[1] <= '9')
}

// collect takes down what flags there are. Only an address may be empty: there
// it says that nothing listens, or that no server is meant.
func collect(n *kong.Node, switches map[string]bool, other map[string]string, blank map[string]bool) {
	for _, f := range n.Flags {
		switches[f.Name] = f.IsBool()
		if f.PlaceHolder == "HOST:PORT" || f.PlaceHolder == "URL" {
			blank[f.Name] = true
		}
		for _, a := range f.Aliases {
			other[a] = f.Name
		}
	}
	for _, c := range n.Children {
		collect(c, switches, other, blank)
	}
}
