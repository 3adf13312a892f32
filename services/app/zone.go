package app

import (
	"os"
	"strings"
	"time"
)

// shopZone is the time zone of the shop, which is the machine's. It is told by
// its name where that is known, so that others can reckon in it too.
func shopZone() *time.Location {
	name, ok := os.LookupEnv("TZ")
	if !ok {
		link, err := os.Readlink("/etc/localtime")
		if err != nil {
			return time.Local
		}
		_, name, _ = strings.Cut(link, "zoneinfo/")
	}
	z, err := time.LoadLocation(strings.TrimPrefix(name, ":"))
	if err != nil || name == "" {
		return time.Local
	}
	now := time.Now()
	_, a := now.In(z).Zone()
	if _, b := now.Local().Zone(); a != b {
		return time.Local
	}
	return z
}
