// Package picture checks what a look shows: windows inside their wall's raster, sources that the processors can take, and the load of every data
// run at the mode's exact wall rate and bit depth.
package picture

// Window is the rectangle of a wall's raster that a source fills. The origin is the raster's top left pixel, as pictures are scanned; windows
// later in a list lie above earlier ones.
type Window struct {
	Source int // into the rig's sources
	Wall   int // into the rig's walls
	X, Y   int // of the top left pixel
	Width  int
	Height int
}
