package daemon

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"

	"lookgate/daemon/files"
	"lookgate/presets/engine"
)

// provedFile lists the proved circuits for whoever reads the site beside a running daemon, which has the record for itself. It is a copy: a start believes the record.
const provedFile = "proved.json"

// maxProved is far above what the circuits of any rig take.
const maxProved = 16 << 20

// ReadProved reads which circuits of a site were proved, from its state folder; none where no daemon ever wrote any. Whether a proof still holds is for
// [engine.Proved] to say.
func ReadProved(stateDir string) ([]engine.Proof, error) {
	path := filepath.Join(stateDir, provedFile)
	text, err := files.ReadWhole(path, maxProved)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var proofs []engine.Proof
	if err := json.Unmarshal(text, &proofs); err != nil {
		return nil, fmt.Errorf("%s: it does not read: %w\nmove it away; a running lookgate writes it again when a circuit is proved", path, err)
	}
	return proofs, nil
}

// copyProved brings the file to what was just committed. It belongs to the disk's goroutine; nobody waits for it, and where it fails the record has it all the same.
func (d *disk) copyProved(proofs []engine.Proof) {
	if d.copied && slices.Equal(d.proofs, proofs) {
		return
	}
	if len(proofs) == 0 && !d.copied { // most sites never have one
		if old, err := ReadProved(d.state); err == nil && old == nil {
			d.copied = true
			return
		}
	}
	text, err := json.MarshalIndent(append([]engine.Proof{}, proofs...), "", "  ")
	if err == nil {
		err = files.Replace(filepath.Join(d.state, provedFile), append(text, '\n'))
	}
	if err != nil {
		d.log.Warn("the list of proved circuits was not written", "cause", err)
		return
	}
	d.proofs, d.copied = proofs, true
}
