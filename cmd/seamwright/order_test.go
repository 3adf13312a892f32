package main

import (
	"strings"
	"testing"
)

// An empty value is refused for every flag that takes one, wherever it stands
// and however it is joined: it would pass for a flag that was not given. An
// address may be empty, which says that nothing listens there.
func TestAnEmptyValueIsNoValue(t *testing.T) {
	model := commandModel(t)
	for line, flag := range map[string]string{
		"bead|--purge-ml|":             "--purge-ml",
		"bead|--purge-ml=":             "--purge-ml",
		"--width-mm||bead":             "--width-mm",
		"run|bay-1|--purge-ml|":        "--purge-ml",
		"run|bay-1|--waste-percent=":   "--waste-percent",
		"stock|--service|":             "--service",
		"dewpoint|--surface-c|":        "--surface-c",
		"fit|x.csv|--dir|":             "--dir",
		"import|--products||--json":    "--products",
		"demo|--days|":                 "--days",
		"up|--screens|":                "",
		"up|--screens=|--dir|d":        "",
		"serve|jobs|--monitor|":        "",
		"watch|--grpc|":                "",
		"bead|--purge-ml|5|--bed":      "",
		"colour|50,0,0|":               "",
		"bead|--width-mm|-1|--help":    "",
		"cure|--hindsight|--stage|x":   "",
		"cure|--hindsight|--stage|":    "--stage",
		"cure|--stage|--hindsight|--x": "--x",
	} {
		_, err := order(strings.Split(line, "|"), model)
		switch {
		case flag == "" && err != nil:
			t.Errorf("%s: %v", line, err)
		case flag == "--x" && (err == nil || !strings.HasPrefix(err.Error(), "--x: unknown flag")):
			t.Errorf("%s: %v", line, err)
		case flag != "" && flag != "--x" && (err == nil || err.Error() != flag+": (empty): a value; give one, or leave the flag out"):
			t.Errorf("%s: %v", line, err)
		}
	}
}
