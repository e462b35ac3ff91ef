package rig

func (f *finder) boards() {
	for i, b := range f.Boards {
		of := "board " + b.Name
		positive(f, "boards", i, "main_a", of, b.Main)
		f.factor("boards", i, of, b.Factor)
		f.neutral("boards", i, of, b.Main, b.Neutral)
		if b.Poles < 1 || b.Poles > maxPoles {
			f.add("board-poles", "boards", i, "poles", b.Name, b.Poles, maxPoles)
		}
		f.residual("boards", i, of, b.Residual)
		f.feeder(i, b)
		f.fed(i)
	}
}

// feeder checks what feeds a board: the cable, and that the main protects it.
func (f *finder) feeder(i int, b Board) {
	of := "board " + b.Name
	f.run("boards", i, "feeder", of, b.Feeder)
	stated(f, "boards", i, "feeder_a", of, b.Carries, b.Carries)
	f.aboveCable("boards", i, "feeder", of, b.Carries, b.Feeder)
	if b.Carries > 0 && b.Main > b.Carries && b.Exception == nil {
		f.add("main-above-feeder", "boards", i, "main_a", b.Name, b.Main, b.Carries)
	}
}

// fed checks that a board stands behind the one that feeds it. One that comes back to itself is told once, at the first board of the ring.
func (f *finder) fed(i int) {
	from := f.Boards[i].From - 1
	if from < i || from >= len(f.Boards) {
		return
	}
	for at, steps := from, 0; steps < len(f.Boards); steps++ {
		if at == i {
			f.add("board-ring", "boards", i, "fed_by", f.Boards[i].Name, f.Boards[from].Name)
			return
		}
		at = f.Boards[at].From - 1
		if at < 0 || at >= len(f.Boards) {
			break
		}
	}
	f.add("board-order", "boards", i, "fed_by", f.Boards[i].Name, f.Boards[from].Name)
}
