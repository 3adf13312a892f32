package main

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/rpc"
)

// TestReadmeFillsAShop pastes the lines of the README that fill a real shop,
// as a reader does who follows nothing else.
func TestReadmeFillsAShop(t *testing.T) {
	t.Chdir("../..")
	text, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "shop")
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() {
		ended <- run(ctx, []string{"up", "--dir", dir, "--grpc", "127.0.0.1:0", "--screens", "127.0.0.1:0"})
	}()
	var at struct{ GRPC string }
	for tick, limit := time.NewTicker(5*time.Millisecond), time.After(20*time.Second); at.GRPC == ""; {
		select {
		case <-tick.C:
			if b, err := os.ReadFile(filepath.Join(dir, "running.json")); err == nil {
				_ = json.Unmarshal(b, &at) // looked at again until it says where
			}
		case err := <-ended:
			t.Fatalf("the shop ended: %v", err)
		case <-limit:
			t.Fatal("the shop did not open within 20 s")
		}
	}
	pasted := 0
	for _, line := range commandsIn(string(text)) {
		words := strings.Fields(line)
		if i := slices.Index(words, "./shop"); i > 0 && (words[0] == "import" || words[0] == "terminal") {
			words[i] = dir
			pasted++
			if err := run(t.Context(), words); err != nil {
				t.Errorf("seamwright %s: %v", line, err)
			}
		}
	}
	if pasted < 2 {
		t.Errorf("%d lines found to paste, want the import and the terminal", pasted)
	}
	conn, err := rpc.Dial(at.GRPC)
	if err != nil {
		t.Fatal(err)
	}
	l, err := jobsv1.NewJobsServiceClient(conn).ListJobs(t.Context(), &jobsv1.ListJobsRequest{})
	if err != nil || len(l.GetJobs()) != 5 { // as testdata/shop/README.md says
		t.Errorf("%d jobs, %v", len(l.GetJobs()), err)
	}
	if err := conn.Close(); err != nil {
		t.Error(err)
	}
	stop()
	if err := <-ended; err != nil {
		t.Errorf("the shop ended with %v", err)
	}
}

// TestReadmeExamplesAreTrue runs each example of the README that needs no
// running shop, and compares what it says; "..." is where it may say more.
func TestReadmeExamplesAreTrue(t *testing.T) {
	t.Chdir("../..")
	text, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(text), "\n")
	ran := 0
	for i, line := range lines {
		command, ok := strings.CutPrefix(line, "$ seamwright ")
		if !ok || strings.Contains(command, "--dir") {
			continue
		}
		var want []string
		for _, l := range lines[i+1:] {
			if l == "```" || strings.HasPrefix(l, "$ ") {
				break
			}
			want = append(want, l)
		}
		got := strings.Split(strings.TrimSuffix(said(t, strings.Fields(command)), "\n"), "\n")
		if n := len(want) - 1; n >= 0 && want[n] == "..." && len(got) > n {
			want, got = want[:n], got[:n]
		}
		if !slices.Equal(want, got) {
			t.Errorf("seamwright %s says\n%s\nthe README has\n%s", command, strings.Join(got, "\n"), strings.Join(want, "\n"))
		}
		ran++
	}
	if ran < 6 {
		t.Errorf("%d examples found", ran)
	}
}

// said is what a command writes to standard output.
func said(t *testing.T, words []string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "said")
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	was := os.Stdout
	os.Stdout = f
	err = run(t.Context(), words)
	os.Stdout = was
	if e := f.Close(); err != nil || e != nil {
		t.Errorf("seamwright %s: %v, %v", strings.Join(words, " "), err, e)
	}
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}
