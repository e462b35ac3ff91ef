package house

// Module is the path of the module that the tables speak of.
const Module = "lookgate"

// all stands in a rule for every package of the module.
const all = "..."

// The tiers of presets/, lowest first. Each sees those below it; two of one
// tier do not see each other.
var (
	belowFinding = []string{"presets/units"}
	belowRig     = append([]string{"presets/finding", "presets/cable"}, belowFinding...)
	belowPower   = append([]string{"presets/rig"}, belowRig...)
	belowPresets = append([]string{"presets/power", "presets/picture", "presets/light"}, belowPower...)
	belowSite    = append([]string{"presets"}, belowPresets...)
	belowTrial   = append([]string{"presets/site", "presets/engine", "presets/plant"}, belowSite...)
	anyPresets   = append([]string{"presets/trial"}, belowTrial...)
	edges        = append([]string{"protocols"}, anyPresets...)
)

// mayImport names, for each package of the module, the packages of the module
// that it may import. A package without a line fails, also an empty one: where
// something belongs is decided before it is written. Files of external test
// packages (package x_test) are free.
var mayImport = map[string][]string{
	"presets/units":         {},
	"presets/finding":       belowFinding,
	"presets/cable":         belowFinding,
	"presets/rig":           belowRig,
	"presets/power":         belowPower,
	"presets/power/netlist": append([]string{"presets/power"}, belowPower...),
	"presets/picture":       belowPower,
	"presets/light":         belowPower,
	"presets":               belowPresets,
	"presets/site":          belowSite,
	"presets/engine":        belowSite,
	// How chains of panels are told apart, on paper and on the wall.
	"presets/hatch": belowPower,
	// What is made of a site or for one: it sees what reading a site sees, and the reading.
	"presets/draft":     append([]string{"presets/site"}, belowSite...),
	"presets/papers":    append([]string{"presets/site", "presets/hatch"}, belowSite...),
	"presets/alignment": append([]string{"presets/site", "presets/hatch"}, belowSite...),
	// The plant checks the arithmetic of power with its own, so it must not see it.
	"presets/plant": {"presets/units", "presets/cable", "presets/rig"},
	// Rigs for the tests of whatever works on one.
	"presets/rig/rigtest": {"presets/units", "presets/cable", "presets/rig"},
	"presets/trial":       belowTrial,

	"protocols":       anyPresets,
	"protocols/osc":   edges,
	"protocols/ws":    edges,
	"protocols/httpd": edges,
	"protocols/sacn":  edges,
	"protocols/text":  edges,
	"protocols/sim":   edges,
	// A desk for the tests of adapters.
	"protocols/desktest": edges,

	"daemon":        append([]string{"daemon/record", "daemon/files"}, edges...),
	"daemon/record": append([]string{"daemon/files"}, edges...),
	"daemon/files":  edges,
	// A daemon on fake devices for tests.
	"daemon/daemontest": append([]string{"daemon", "daemon/record", "daemon/files", "presets/rig/rigtest"}, edges...),

	"web": {},

	"cmd/lookgate":     {all},
	"cmd/measure":      {all},
	"cmd/simulate":     {all},
	"cmd/verify":       {all},
	"cmd/verify/house": {},
}

// testSupport names the packages that only tests may import, any test, and that
// may use what tests use.
var testSupport = []string{"protocols/desktest", "presets/rig/rigtest", "daemon/daemontest"}

// library says where a module from outside may be imported.
type library struct {
	path  string   // import path of the module or of its owner
	in    []string // packages whose own code may import it
	tests bool     // whether any test may import it
	why   string
}

var libraries = []library{
	{path: "go.yaml.in/yaml", in: []string{"presets/site"}, why: "presets/site turns YAML into values; all others take the values"},
	{path: "github.com/ncruces/go-sqlite3", in: []string{"daemon/record"}, why: "daemon/record is the only one that knows how rows are kept"},
	{path: "modernc.org/sqlite", in: []string{"daemon/record"}, why: "daemon/record is the only one that knows how rows are kept"},
	{path: "github.com/hypebeast/go-osc", in: []string{"protocols/osc"}, tests: true, why: "protocols/osc hides the codec"},
	{path: "github.com/gorilla/websocket", in: []string{"protocols/ws"}, tests: true, why: "protocols/ws hides the socket"},
	{path: "github.com/stretchr/testify", tests: true, why: "assertions belong to tests"},
	{path: "github.com/chromedp", tests: true, why: "a browser belongs to tests"},
}

// stdBan forbids packages of the standard library in the shipped code under a
// folder. Only direct imports count: fmt itself reaches os and syscall.
type stdBan struct {
	under   string
	rule    string
	paths   []string // an entry that ends in /... covers the path and all below it
	except  []string // packages that may all the same
	because string
}

var stdBans = []stdBan{
	{under: "presets", rule: "file", paths: []string{"os/...", "io/fs", "io/ioutil", "embed", "syscall/...", "database/..."},
		because: "nothing under presets/ reads or writes: take bytes as an argument, return bytes"},
	{under: "presets", rule: "socket", paths: []string{"net/..."},
		because: "nothing under presets/ talks to a network: return an action and let the daemon do it"},
	{under: "presets", rule: "log", paths: []string{"log/...", "expvar"},
		because: "nothing under presets/ logs: return an event or a finding"},
	{under: "presets", rule: "lock", paths: []string{"sync/..."},
		because: "nothing under presets/ locks: a value has one owner, the daemon's one goroutine"},
	{under: "presets", rule: "goroutine", paths: []string{"runtime/...", "context"},
		because: "nothing under presets/ runs beside its caller or waits: what must happen later comes back as an input"},
	{under: "presets", rule: "random", paths: []string{"crypto/rand", "math/rand", "hash/maphash"},
		because: "nothing under presets/ draws from a global source: take numbers from an explicit seed, or as an argument"},
	{under: "presets", rule: "random", paths: []string{"math/rand/v2"}, except: []string{"presets/trial", "presets/plant", "presets/rig/rigtest"},
		because: "only the simulation draws numbers, from rand.New with the seed that it prints"},
	{under: "presets", rule: "unsafe", paths: []string{"unsafe", "C", "plugin"},
		because: "nothing under presets/ leaves the language: what it does must be readable from its text"},
	{under: "presets", rule: "test-code", paths: []string{"testing/..."},
		because: "shipped code does not need the test framework: move this to a _test.go file"},
	{under: "daemon", rule: "program", paths: []string{"flag", "os/signal"},
		because: "only cmd sees flags and signals: take the setting or the context as an argument"},
	{under: "protocols", rule: "program", paths: []string{"flag", "os/signal"},
		because: "only cmd sees flags and signals: take the setting or the context as an argument"},
	{under: "web", rule: "program", paths: []string{"flag", "os/signal"},
		because: "only cmd sees flags and signals: take the setting or the context as an argument"},
}

// nameBan forbids single names in the shipped code under presets/, by what they
// resolve to: a renamed import or a function used as a value is found as well.
type nameBan struct {
	rule    string
	names   []string
	because string
}

var nameBans = []nameBan{
	{rule: "clock", names: []string{"time.Now", "time.Since", "time.Until", "time.Sleep", "time.After", "time.AfterFunc",
		"time.Tick", "time.NewTimer", "time.NewTicker"},
		because: "time is an argument: take now, return the next deadline"},
	{rule: "clock", names: []string{"time.Local", "time.LoadLocation", "(time.Time).Local"},
		because: "the machine's time zone is not an argument: use UTC, the screen knows where it hangs"},
	{rule: "file", names: []string{"path/filepath.Abs", "path/filepath.EvalSymlinks", "path/filepath.Glob",
		"path/filepath.Walk", "path/filepath.WalkDir"},
		because: "nothing under presets/ looks at a disk: take names and bytes as arguments"},
	{rule: "log", names: []string{"fmt.Print", "fmt.Printf", "fmt.Println", "fmt.Scan", "fmt.Scanf", "fmt.Scanln", "print", "println"},
		because: "nothing under presets/ prints or reads a terminal: return the text"},
	{rule: "goroutine", names: []string{"iter.Pull", "iter.Pull2"},
		because: "nothing under presets/ runs beside its caller: range over the sequence instead"},
	{rule: "map-order", names: []string{"(reflect.Value).MapKeys", "(reflect.Value).MapRange"},
		because: "a map's order is random: keep a sorted slice beside the map"},
}

// sourcesOfRandom are the names of math/rand/v2 that draw from nothing global.
var sourcesOfRandom = []string{"New", "NewPCG", "NewChaCha8", "NewZipf", "Rand", "PCG", "ChaCha8", "Zipf", "Source"}

// bareNumbersIn names the packages of presets/ that may export bare floating
// point numbers: the one that makes quantities of them.
var bareNumbersIn = []string{"presets/units"}

// topLevelEntries is all that may stand at the top of the tree.
var topLevelEntries = []string{
	".ci", ".editorconfig", ".git", ".gitattributes", ".gitignore",
	"DEVELOPERS.md", "LICENSE", "README.md", "go.mod", "go.sum",
	"cmd", "daemon", "presets", "protocols", "testdata", "web",
	// Left by builds and runs, and ignored by git.
	"lookgate", "state", "*.test", "*.out",
}

// emptyNames are package names that say nothing and so collect everything.
var emptyNames = []string{"util", "utils", "common", "helper", "helpers", "misc"}

const (
	// maxFileLines is where a file holds two ideas.
	maxFileLines = 700
	// maxFuncLines is where a function no longer fits a screen, from the line
	// of its name to its closing brace.
	maxFuncLines = 50
)

// longFunctions may be longer than [maxFuncLines], each for a reason that
// stands beside it. The key is the package, a dot, and the name with its
// receiver's type: presets/units.Amps.String.
var longFunctions = map[string]string{}

// sourceSuffixes are the files that [maxFileLines] holds for.
var sourceSuffixes = []string{".go", ".js", ".mjs", ".css", ".html", ".sh"}
