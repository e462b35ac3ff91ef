package osc

import (
	"errors"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// packetSeeds and patternSeeds are what the fuzzers start from: the published
// tables. publishedRows fails the test where a table is empty.
func packetSeeds(t testing.TB) [][]byte {
	var seeds [][]byte
	for _, row := range publishedRows(t, "osc-bytes.csv") {
		seeds = append(seeds, octets(t, row))
	}
	return seeds
}

func patternSeeds(t testing.TB) [][2]string {
	var seeds [][2]string
	for _, row := range publishedRows(t, "osc-patterns.csv") {
		seeds = append(seeds, [2]string{row["pattern"], row["address"]})
	}
	return seeds
}

func TestFuzzSeedsAreThere(t *testing.T) {
	require.GreaterOrEqual(t, len(packetSeeds(t)), 40)
	require.GreaterOrEqual(t, len(patternSeeds(t)), 50)
}

// FuzzDecode: no packet panics or is read in another way than the second
// decoder reads it, and what Encode can write comes out as it went in.
func FuzzDecode(f *testing.F) {
	for _, packet := range packetSeeds(f) {
		f.Add(packet)
	}
	f.Fuzz(checkDecode)
}

func checkDecode(t *testing.T, packet []byte) {
	limits := DefaultLimits()
	before := string(packet)
	groups, err := Decode(packet, limits)
	require.Equal(t, before, string(packet), "Decode wrote to its packet")
	if errors.Is(err, ErrLimit) {
		require.Nil(t, groups)
		return
	}
	text, _, refused := strings.Cut(show(groups, err), " at ")
	if err == nil {
		text, refused = show(groups, err), false
	}
	require.Equal(t, slowDecode(packet, ""), text)
	require.Equal(t, err != nil, refused)
	messages := 0
	for _, g := range groups {
		messages += len(g.Messages)
		for _, m := range g.Messages {
			require.LessOrEqual(t, len(m.Arguments), limits.Arguments)
			readAll(m)
		}
	}
	require.LessOrEqual(t, messages, limits.Elements)
	if err == nil && packet[0] == '/' && encodable(packet, groups[0].Messages[0]) {
		again, err := Encode(groups[0].Messages[0].Address, groups[0].Messages[0].Arguments...)
		require.NoError(t, err)
		require.Equal(t, before, string(again))
	}
}

// readAll puts every reader to every argument, and one beyond.
func readAll(m Message) {
	m.Release()
	for i := -1; i <= len(m.Arguments); i++ {
		_, _ = m.Number(i)
		_, _ = m.Whole(i)
		_, _ = m.Switch(i)
		_, _ = m.Text(i)
		m.IsText(i)
	}
}

// TestDecodeMutants breaks published packets at random and holds the two
// decoders against each other, so that plain go test does some of the fuzzing.
func TestDecodeMutants(t *testing.T) {
	seeds := packetSeeds(t)
	rng := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		packet := append([]byte(nil), seeds[rng.IntN(len(seeds))]...)
		for range 1 + rng.IntN(3) {
			packet = mutate(rng, packet)
		}
		checkDecode(t, packet)
	}
}

func mutate(rng *rand.Rand, packet []byte) []byte {
	if len(packet) == 0 {
		return []byte("/a\x00\x00")
	}
	at := rng.IntN(len(packet))
	switch rng.IntN(4) {
	case 0:
		packet[at] = byte(rng.Uint32())
	case 1:
		packet[at] = []byte{0, ',', '/', '#', 'i', 'b', 's', 't', 4, 8, 12, 255}[rng.IntN(12)]
	case 2:
		return packet[:at&^3]
	default:
		word := at &^ 3
		return append(packet[:word:word], append([]byte{0, 0, 0, byte(rng.IntN(32))}, packet[word:]...)...)
	}
	return packet
}

// FuzzMatch: the matcher agrees with the second one, whatever the pattern.
func FuzzMatch(f *testing.F) {
	for _, seed := range patternSeeds(f) {
		f.Add(seed[0], seed[1])
	}
	f.Fuzz(func(t *testing.T, pattern, address string) {
		if len(pattern) > 40 || len(address) > 40 { // the second matcher takes exponential time
			_, _ = Match(pattern, address)
			return
		}
		checkMatch(t, pattern, address)
	})
}

func checkMatch(t *testing.T, pattern, address string) {
	if CheckAddress(address) != nil {
		require.Equal(t, "malformed", verdict(pattern, address))
		return
	}
	require.Equal(t, slowMatcher{}.verdict(pattern, address), verdict(pattern, address), "%q on %q", pattern, address)
}

// TestMatchRandom draws patterns and addresses from a small alphabet, where they
// match often.
func TestMatchRandom(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	atoms := []string{"a", "b", "c", "-", "!", "/", "*", "?", "[a-b]", "[!a]", "[b-]", "{a,bc}", "{,a}", "{ab,a}", "[", "]", "{", "}", ","}
	count := map[string]int{}
	for range 60000 {
		pattern, address := "/", "/"
		for range rng.IntN(7) {
			pattern += atoms[rng.IntN(len(atoms)-5*min(1, rng.IntN(8)))]
		}
		for range rng.IntN(6) {
			address += atoms[rng.IntN(6)]
		}
		checkMatch(t, pattern, address)
		count[verdict(pattern, address)]++
	}
	for _, v := range []string{"yes", "no", "malformed"} {
		require.Greater(t, count[v], 1000, v)
	}
}
