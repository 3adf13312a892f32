package access

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strings"

	"golang.org/x/crypto/argon2"

	"seamwright/services/fault"
)

// The cost of one hash: argon2id of RFC 9106 with one pass over 64 MiB and
// one lane, about a tenth of a second on a small machine.
const (
	passes    = 1
	memoryKiB = 64 * 1024
	lanes     = 1
	saltBytes = 16
	keyBytes  = 32
)

// prefix is how a hash of this cost begins in the PHC string format.
var prefix = fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$", argon2.Version, memoryKiB, passes, lanes)

// pinHash is a stored PIN. The zero value is no PIN's.
type pinHash struct{ salt, key []byte }

// matches does the work of one hash, whatever the outcome.
func (h pinHash) matches(pin string) bool {
	key := argon2.IDKey([]byte(pin), h.salt, passes, memoryKiB, lanes, keyBytes)
	return len(h.key) == keyBytes && subtle.ConstantTimeCompare(key, h.key) == 1
}

// HashPIN makes the text that people.yaml keeps for a PIN of 4 to 12 digits.
func HashPIN(pin string) (string, error) {
	if err := checkPIN(pin); err != nil {
		return "", err
	}
	salt := make([]byte, saltBytes)
	if _, err := rand.Read(salt); err != nil {
		return "", fault.Wrap(err, fault.Unavailable, "no-randomness", "try again")
	}
	key := argon2.IDKey([]byte(pin), salt, passes, memoryKiB, lanes, keyBytes)
	enc := base64.RawStdEncoding
	return prefix + enc.EncodeToString(salt) + "$" + enc.EncodeToString(key), nil
}

// RandomPIN makes a PIN of six digits.
func RandomPIN() string {
	var b [8]byte
	_, _ = rand.Read(b[:]) // never fails since Go 1.24
	n := uint64(0)
	for _, c := range b {
		n = n<<8 | uint64(c)
	}
	return fmt.Sprintf("%06d", n%1_000_000)
}

// checkPIN never puts the PIN itself into the error.
func checkPIN(pin string) error {
	ok := len(pin) >= 4 && len(pin) <= 12
	for _, c := range pin {
		ok = ok && c >= '0' && c <= '9'
	}
	if !ok {
		return fault.Bad("pin", fmt.Sprintf("%d characters", len(pin)), "4 to 12 digits")
	}
	return nil
}

// parseHash reads a stored hash. Only the one cost is taken: a file that asks
// for less would be weak, one that asks for more could starve the machine.
func parseHash(s string) (pinHash, error) {
	rest, ok := strings.CutPrefix(s, prefix)
	salt, key, two := strings.Cut(rest, "$")
	if !ok || !two {
		return pinHash{}, fmt.Errorf("must begin with %s and hold salt and key", prefix)
	}
	enc := base64.RawStdEncoding.Strict()
	var h pinHash
	var err error
	if h.salt, err = enc.DecodeString(salt); err != nil || len(h.salt) < 8 {
		return pinHash{}, fmt.Errorf("its salt must be at least 8 bytes in base64 without padding")
	}
	if h.key, err = enc.DecodeString(key); err != nil || len(h.key) != keyBytes {
		return pinHash{}, fmt.Errorf("its key must be %d bytes in base64 without padding", keyBytes)
	}
	return h, nil
}
