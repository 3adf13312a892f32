package app_test

import "testing"

type realRow struct {
	row
	run func(t *testing.T, got *cells)
}

func realRows() []realRow { return nil }

func filtered() bool { return false }
