package alignment

import (
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/picture"
)

func TestLettersAreTold(t *testing.T) {
	seen := map[glyph]rune{}
	for _, c := range "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-._%/:+()#&*=><," {
		g, ok := glyphs[c]
		require.True(t, ok, "%c is on the sheet", c)
		require.NotContains(t, seen, g, "%c looks like another", c)
		seen[g] = c
	}
	require.Equal(t, letter('A'), letter('a'))
	require.Equal(t, missing, letter('é'))
	require.Len(t, glyphs, len(seen)+1, "and the space")
}

func TestTextStaysInItsPanel(t *testing.T) {
	for _, c := range []struct {
		name string
		in   picture.Rect
		text []string
	}{
		{"fits", picture.Rect{X: 20, Y: 20, Width: 60, Height: 60}, []string{"C12R3"}},
		{"is too wide for the middle", picture.Rect{X: 20, Y: 20, Width: 31, Height: 60}, []string{"C12R3"}},
		{"is broken", picture.Rect{X: 20, Y: 20, Width: 31, Height: 60}, []string{"a-very-long-name"}},
		{"has no room at all", picture.Rect{X: 20, Y: 20, Width: 4, Height: 4}, []string{"A"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := newCanvas(picture.Rect{Width: 100, Height: 100})
			d.label(c.in, c.text, 3, d.grey(200))
			lit := 0
			for y := range 100 {
				for x := range 100 {
					if d.image.ColorIndexAt(x, y) != 0 {
						lit++
						require.False(t, x < c.in.X || y < c.in.Y || x >= c.in.X+c.in.Width || y >= c.in.Y+c.in.Height, "pixel %d, %d", x, y)
					}
				}
			}
			require.Equal(t, c.name != "has no room at all", lit > 0)
		})
	}
}
