// Package crosscheck holds tests alone: they put random inputs through the
// arithmetic and through general reference libraries of other authors.
package crosscheck
