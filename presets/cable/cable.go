// Package cable holds what the published tables say of conductors: sizes, resistance and reactance, what they may carry, and the factors for heat and company.
package cable

import "strings"

// Size is a conductor's nominal size: an American gauge, circular mils or square millimetres. The zero value is no size.
type Size uint8

// names are the sizes in the words of their standards, by Size; the first is none.
var names = []string{"", "18 AWG", "16 AWG", "14 AWG", "12 AWG", "10 AWG", "8 AWG", "6 AWG", "4 AWG", "3 AWG", "2 AWG", "1 AWG", "1/0 AWG", "2/0 AWG", "3/0 AWG", "4/0 AWG",
	"1 mm²", "1.5 mm²", "2.5 mm²", "4 mm²", "6 mm²", "10 mm²", "16 mm²", "25 mm²", "35 mm²", "50 mm²", "70 mm²"}

// String gives the size as it stands on a reel: "12 AWG", "2.5 mm²".
func (s Size) String() string { return names[s] }

// ParseSize reads a size: "12 AWG", "4/0 AWG", "2.5 mm²" or "2.5 mm2".
func ParseSize(s string) (Size, bool) {
	s = strings.ReplaceAll(s, "mm2", "mm²")
	for i, n := range names[1:] {
		if n == s {
			return Size(i + 1), true
		}
	}
	return 0, false
}

// Stranding says how a conductor is made, which its resistance depends on.
type Stranding uint8

// Solid, Stranded and Coated (stranded, each wire tinned) are the columns of NEC chapter 9 table 8; Class2 and Class5 (flexible) those of IEC 60228.
const (
	Solid Stranding = iota
	Stranded
	Coated
	Class2
	Class5
)

// String gives the word of the site file.
func (s Stranding) String() string {
	return [...]string{"solid", "stranded", "coated", "class-2", "class-5"}[s]
}
