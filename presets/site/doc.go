// Package site turns the files of a site folder into a rig, a book, stations and devices, or into everything that is wrong with them, each problem
// with its file, line and column. It reads bytes: whoever calls it opens the files.
//
// The YAML is strict. Unknown, duplicate and missing keys, anchors, aliases, tags and second documents are problems. Units stand in the key's name
// (breaker_a: 20) and may be repeated (20 A), or stand in the value where the key has none (packet_life: 300 ms, port: 1 Gb/s). A share or level is 42%
// or 0.42. Frame rates are exact: 24000/1001.
//
// # Panels
//
// C3R1 is column 3 from the left, row 1 from the bottom; "bay C3R1" names the wall too. C1R1..C2R9 is a block: it is walked from its first corner along
// the first column, back along the next. A block passes over gaps; a single gap that is named is a mistake. The rig numbers panels wall by wall, column by
// column from the left, each from the bottom.
//
// # Cables and boards
//
// A cable of the cables is named by feeder (of a board), home_run and jumper (of a circuit) with a length one way. Where it is named, home_run_a, jumper_a and
// feeder_a may be left out: then they are what the cable carries as it is laid, its rating times a factor for the temperature around it (ambient_factor, or by the
// published tables ambient_c with insulation_c) and one for its company (grouping_factor, or by the tables together). Boards stand in any order; fed_by names the
// one that feeds a board, and the supply feeds the others.
//
// # Rules
//
// An item of circuits, data_runs, processors, outputs or devices can be a rule that makes many of them. It takes an area (wall, and columns: 1-20 or rows:
// 1-4 where not all of it) and cuts it by columns_each, rows_each or panels_each, from the corner start (bottom-left, bottom-right, top-left, top-right)
// along path (up-down and left-right turn back at each end, columns and rows begin each line on the same side). What a rule makes is named as follows.
//
//   - circuits: prefix and a number from first_number (1 if not given): B1, B2. Their poles count from first_pole: one each, or with poles_each: 2 two rows
//     of one column, left and right in turn, on an odd-even board (1 3, 2 4, 5 7, 6 8), and the next two places on a board by ways. "most" for a size is as
//     many panels, in whole columns or rows, as the breaker carries continuously at full white. Under except, a circuit differs in what is listed; the
//     others keep their names and poles.
//   - data runs: processor, dash, port: heron-7. Ports count on from the last one of the processor. Without a processor, a run is on the one that a rule
//     under processors made for its columns.
//   - processors: prefix and number, one for every columns_each columns of the wall. Devices with that prefix are one for each of them, and their
//     addresses and reply ports count up.
//   - outputs: each: processor makes one for each processor of the area, named wall, dash, processor; a prefix makes one for each part. An output that
//     names no device is held by the processor of its panels; one without an address has its number on its device, from 1.
package site
