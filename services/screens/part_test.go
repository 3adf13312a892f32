package screens

import (
	"slices"
	"testing"
	"time"
)

func ids(parts []part) (out []string) {
	for _, p := range parts {
		out = append(out, p.id)
	}
	return out
}

// TestTimeAloneSendsNothing lets seconds pass over each gallery screen: what
// the script runs on by itself is not sent again.
func TestTimeAloneSendsNothing(t *testing.T) {
	bay := galleryBayLay()
	hold := galleryBayHold()
	board := galleryBoard()
	for name, draw := range map[string]func(time.Duration) (page, error){
		"board": func(d time.Duration) (page, error) {
			b := board
			b.Now = b.Now.Add(d)
			return drawBoard(b, ref{Kind: "board"})
		},
		"lay": func(d time.Duration) (page, error) {
			b := bay
			b.Now = b.Now.Add(d)
			return drawBay(b, ref{Kind: "bay"}, nil)
		},
		"hold": func(d time.Duration) (page, error) {
			b := hold
			b.Now = b.Now.Add(d)
			return drawBay(b, ref{Kind: "bay"}, nil)
		},
	} {
		s := seen{}
		for i, step := range []time.Duration{0, time.Second, 20 * time.Second} {
			p, err := draw(step)
			if err != nil {
				t.Fatal(err)
			}
			got := ids(s.changed(p.parts))
			if i == 0 && len(got) != len(p.parts) {
				t.Errorf("%s: first sent %v", name, got)
			}
			if i > 0 && len(got) > 0 {
				t.Errorf("%s: %v later sent %v", name, step, got)
			}
		}
	}
}

// TestTimeThatTurnsIsSent checks that a state that time brings does get sent:
// the tooling time that has passed.
func TestTimeThatTurnsIsSent(t *testing.T) {
	s := seen{}
	b := galleryBayHold()
	for i, want := range [][]string{nil, {"work"}} {
		b.Now = b.Now.Add(time.Duration(i) * 5 * time.Minute)
		p, err := drawBay(b, ref{Kind: "bay"}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if got := ids(s.changed(p.parts)); i > 0 && !slices.Equal(got, want) {
			t.Errorf("sent %v, want %v", got, want)
		}
	}
}

// TestContainers walks a container through its changes.
func TestContainers(t *testing.T) {
	group := func(key string, kids ...part) []part {
		return []part{{id: "g", html: "whole", key: key, kids: kids}}
	}
	a, b := part{id: "a", html: "1"}, part{id: "b", html: "1"}
	s := seen{}
	for _, c := range []struct {
		parts []part
		want  []string
	}{
		{group("a b", a, b), []string{"g"}},
		{group("a b", a, b), nil},
		{group("a b", part{id: "a", html: "2"}, b), []string{"a"}},
		{group("a b", a, b), []string{"a"}},
		{group("b", b), []string{"g"}},
		{group("b a", b, part{id: "a", html: "9"}), []string{"g"}},
		{group("b a", b, part{id: "a", html: "9"}), nil},
	} {
		if got := ids(s.changed(c.parts)); !slices.Equal(got, c.want) {
			t.Errorf("sent %v, want %v", got, c.want)
		}
	}
}
