package plant

import "lookgate/presets/units"

// Contents says what part of the way from black to full white the picture of a layout takes each output's panels. Layouts that it does not know are full white.
type Contents map[int][]units.Share

// Show gives the plant its pictures' contents, before anything happens. The credit that a look takes on its picture rests on two assumptions, and the plant keeps to them:
// the picture is what its preset says; and a device that restarted shows full white at its restart level until it is told a level, and from then on no more than what it
// showed before.
func (p *Plant) Show(c Contents) { p.contents = c }

// part gives what part of its level an output's picture takes now.
func (p *Plant) part(output int) units.Share {
	if p.outputs[output].fresh {
		return 1
	}
	if parts := p.contents[p.devices[p.rig.Outputs[output].Device].shows]; parts != nil {
		return parts[output]
	}
	return 1
}
