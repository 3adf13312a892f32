package fault_test

import (
	"testing"

	"seamwright/services/fault"
)

func TestShow(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"", ""},
		{"bay-1", "bay-1"},
		{"12345", "12345"},
		{"123456", "12345..."},
		{"Türe\u00a0l", "Türe\u00a0..."},
		{"a\nb", `"a\nb"`},
		{"\x97\x97", `"\x97\x97"`},
		{"12345\n", "12345..."},
		{"\x9712345", `"\x971234..."`},
	} {
		if got := fault.Show(c.in, 5); got != c.want {
			t.Errorf("%q is shown as %s, want %s", c.in, got, c.want)
		}
	}
}
