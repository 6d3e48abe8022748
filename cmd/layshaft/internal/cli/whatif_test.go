package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
)

// ranked is what the tests read of an answer of whatif.
type ranked struct {
	Set         []string
	PairIDs     []string `json:"pair_ids"`
	Lap         float64  `json:"lap_time_s"`
	Gain        float64  `json:"gain_s"`
	Headroom    *int     `json:"headroom_rpm"`
	ComesOff    []int    `json:"comes_off"`
	BenchMin    float64  `json:"bench_min"`
	Gears       []int    `json:"changed_gears"`
	Used        []bool   `json:"used_on_lap"`
	SameLap     bool     `json:"same_lap_as_before"`
	DefaultLap  *float64 `json:"lap_default_conditions_s"`
	DefaultGain *float64 `json:"gain_default_conditions_s"`
	InStock     bool     `json:"in_stock"`
	Refused     string
	LimiterS    float64 `json:"on_limiter_s"`
	Limiter     []struct {
		TimeS float64 `json:"time_s"`
	} `json:"limiter_places"`
	Exits []struct {
		Corner   string
		Gear     int
		RPM      int     `json:"engine_rpm"`
		SpeedKmh float64 `json:"speed_kmh"`
	} `json:"throttle_on"`
	Pairs []struct {
		Gear    int
		PairID  string   `json:"pair_id"`
		Lay     int      `json:"layshaft_teeth"`
		Main    int      `json:"mainshaft_teeth"`
		BasePct float64  `json:"against_base_pct"`
		BaseRPM int      `json:"against_base_rpm"`
		OffPct  *float64 `json:"off_wish_pct"`
		OffRPM  *int     `json:"off_wish_rpm"`
		InStock bool     `json:"in_stock"`
		Free    bool
		NotFree string   `json:"not_free"`
		LeftKm  *float64 `json:"left_km"`
	} `json:"changed_pairs"`
}

// whatIfFound is what they read of the whole.
type whatIfFound struct {
	Base    ranked
	Answers []ranked
	Refused []ranked `json:"quicker_but"`
	Wishes  []struct {
		Gear        int
		Direction   string
		ComparedRPM int      `json:"compared_at_rpm"`
		Want        *float64 `json:"wanted_ratio"`
	}
	ToBuy []struct {
		PairID string   `json:"pair_id"`
		Lap    *float64 `json:"lap_time_s"`
		Over   *float64 `json:"gain_over_stock_s"`
	} `json:"not_in_stock"`
	Default *struct {
		Lap    float64 `json:"lap_time_s"`
		Change float64 `json:"change_s"`
	} `json:"base_default_conditions"`
	LimiterRPM int `json:"limiter_rpm"`
}

func runWhatIf(t *testing.T, args ...string) whatIfFound {
	t.Helper()
	var out, errs bytes.Buffer
	code := Main(context.Background(), append([]string{"whatif", "-q", "--format", "json"}, args...), strings.NewReader(""), &out, &errs)
	require.Equal(t, exitDone, code, "%v: %s", args, errs.String())
	var f whatIfFound
	require.NoError(t, json.Unmarshal(out.Bytes(), &f))
	return f
}

func ratioOf(t *testing.T, teeth string) float64 {
	t.Helper()
	var lay, main int
	_, err := fmt.Sscanf(teeth, "%d/%d", &lay, &main)
	require.NoError(t, err)
	return float64(main) / float64(lay)
}

// A wish is never answered the other way, and about is from half to double of what
// was asked for; how far a pair is from the base and from the wish follows from its
// teeth: at one road speed engine speeds are as the ratios.
func TestWishesAreKept(t *testing.T) {
	for _, c := range []struct {
		flag, word string
		gear       int
		pct, rpm   float64
	}{
		{"--taller", "6", 6, 0, 0}, {"--shorter", "6", 6, 0, 0}, {"--taller", "5:2%", 5, 2, 0}, {"--shorter", "5:3%", 5, 3, 0},
		{"--taller", "2:4%", 2, 4, 0}, {"--shorter", "4:150rpm", 4, 0, 150}, {"--taller", "3:200rpm", 3, 0, 200}, {"--shorter", "6:300rpm", 6, 0, 300},
	} {
		for _, circuit := range []string{"harrowdale", "quayside"} {
			t.Run(circuit+c.flag+c.word, func(t *testing.T) {
				f := runWhatIf(t, "--track", circuit, c.flag, c.word)
				require.NotEmpty(t, f.Answers)
				require.Len(t, f.Wishes, 1)
				ref := float64(f.Wishes[0].ComparedRPM)
				base := ratioOf(t, f.Base.Set[c.gear-1])
				share := c.pct / 100
				if c.rpm > 0 {
					share = c.rpm / ref
				}
				sign := 1.0
				if c.flag == "--taller" {
					sign = -1
				}
				ratios := map[float64]bool{}
				for _, a := range f.Answers {
					require.Equal(t, []int{c.gear}, a.Gears)
					got := ratioOf(t, a.Set[c.gear-1])
					ratios[got] = true
					moved := sign * (got/base - 1)
					assert.Positive(t, moved, "%s against %s", a.Set[c.gear-1], f.Base.Set[c.gear-1])
					require.Len(t, a.Pairs, 1)
					p := a.Pairs[0]
					assert.True(t, p.Free)
					numtest.Equal(t, "base %, rounded to 0.01", 100*(got/base-1), p.BasePct, 0.0051, 0)
					// Both whole rpm, and the reference another.
					numtest.Equal(t, "base rpm", ref*(got/base-1), float64(p.BaseRPM), 1.1, 0)
					if share == 0 {
						assert.Nil(t, p.OffPct)
						continue
					}
					assert.GreaterOrEqual(t, moved, share/2-1e-4, "the reference is rounded to 1 rpm")
					assert.LessOrEqual(t, moved, 2*share+1e-4)
					want := base * (1 + sign*share)
					numtest.Equal(t, "off the wish, %", 100*(got/want-1), *p.OffPct, 0.016, 0)
					numtest.Equal(t, "off the wish, rpm", ref*(got-want)/base, float64(*p.OffRPM), 1.6, 0)
				}
				assert.LessOrEqual(t, len(ratios), nearest)
			})
		}
	}
}

// Without an amount the answers are the nearest usable pairs there are: none between
// them and the base is left out.
func TestWishTakesTheNearest(t *testing.T) {
	all := runWhatIf(t, "--track", "quayside", "--change", "6", "--answers", "500")
	f := runWhatIf(t, "--track", "quayside", "--taller", "6")
	base := ratioOf(t, f.Base.Set[5])
	var want, got []float64
	for _, a := range all.Answers {
		if r := ratioOf(t, a.Set[5]); r < base && !slices.Contains(want, r) {
			want = append(want, r)
		}
	}
	for _, a := range f.Answers {
		if r := ratioOf(t, a.Set[5]); !slices.Contains(got, r) {
			got = append(got, r)
		}
	}
	slices.Sort(want)
	slices.Reverse(want)
	slices.Sort(got)
	slices.Reverse(got)
	require.Greater(t, len(want), nearest, "else nothing is left out")
	assert.Equal(t, want[:nearest], got)
}

// Where two laps put full throttle on in the same gear, rpm are as ratio times road
// speed: rpm = v·ratio/(2·pi·r), the radius the same to a few parts in a thousand
// (it grows with speed).
func TestExitRPMFollowRatioAndSpeed(t *testing.T) {
	f := runWhatIf(t, "--track", "harrowdale", "--change", "3")
	compared, moved := 0, 0
	for _, a := range f.Answers {
		require.NotEmpty(t, a.Exits)
		for _, e := range a.Exits {
			for _, b := range f.Base.Exits {
				if e.Corner != b.Corner || e.Gear != b.Gear {
					continue
				}
				want := float64(b.RPM) * ratioOf(t, a.Set[e.Gear-1]) / ratioOf(t, f.Base.Set[e.Gear-1]) * e.SpeedKmh / b.SpeedKmh
				numtest.Equal(t, "rpm", want, float64(e.RPM), 1.5, 1e-3)
				compared++
				if e.RPM != b.RPM {
					moved++
				}
			}
		}
	}
	assert.Greater(t, compared, 20)
	assert.Positive(t, moved, "third drives out of some corner")
}

// The stretches on the limiter add up to the time on it, somewhere more than nothing.
func TestLimiterPlacesAddUp(t *testing.T) {
	f := runWhatIf(t, "--track", "saltmere", "--change", "6")
	most := 0.0
	for _, a := range f.Answers {
		sum := 0.0
		for _, p := range a.Limiter {
			sum += p.TimeS
		}
		numtest.Equal(t, "time on the limiter", a.LimiterS, sum, 1e-6*float64(len(a.Limiter)+1), 0)
		most = max(most, sum)
	}
	assert.Greater(t, most, 1.0)
}

// A pair that might be bought does what the same pair does once it is in the stock;
// what it could be taken for is the label alone.
func TestIfBoughtIsAsBought(t *testing.T) {
	stock, err := os.ReadFile("testdata/small/twenty.toml")
	require.NoError(t, err)
	require.NotContains(t, string(stock), `"25/26"`)
	path := filepath.Join(t.TempDir(), "more.toml")
	grown := string(stock) + "\n[[pair]]\nid = \"25/26\"\nlayshaft_teeth = 25\nmainshaft_teeth = 26\npair_count = 1\nfits = [\"narrow\"]\nrun_km = 0\nlife_km = 3000\n"
	require.NoError(t, os.WriteFile(path, []byte(grown), 0o600))
	set := []string{"--set", fittedOf(t, stock), "--change", "5,6", "--answers", "500", "--track", "testdata/small/kite.toml"}
	have := runWhatIf(t, append(set, "--stock", path)...)
	might := runWhatIf(t, append(set, "--stock", "testdata/small/twenty.toml", "--if-bought", "25/26:narrow")...)
	require.Len(t, might.Answers, len(have.Answers))
	with := 0
	for i := range have.Answers {
		a, b := have.Answers[i], might.Answers[i]
		assert.Equal(t, a.Set, b.Set)
		assert.Equal(t, []any{a.Lap, a.Gain, a.Headroom, a.ComesOff, a.BenchMin, a.LimiterS, a.Exits},
			[]any{b.Lap, b.Gain, b.Headroom, b.ComesOff, b.BenchMin, b.LimiterS, b.Exits})
		bought := slices.Contains(b.PairIDs, "NOT IN STOCK 25/26")
		assert.Equal(t, slices.Contains(a.PairIDs, "25/26"), bought)
		assert.Equal(t, !bought, b.InStock)
		for _, p := range b.Pairs {
			if p.PairID == "NOT IN STOCK 25/26" {
				with++
				assert.False(t, p.Free)
				assert.False(t, p.InStock)
				assert.Equal(t, "not in stock", p.NotFree)
			}
		}
	}
	require.Positive(t, with)
	require.Len(t, might.ToBuy, 1)
	best := slices.IndexFunc(might.Answers, func(a ranked) bool { return !a.InStock })
	out := slices.IndexFunc(might.Answers, func(a ranked) bool { return a.InStock })
	assert.Equal(t, might.Answers[best].Lap, *might.ToBuy[0].Lap)
	numtest.Equal(t, "over stock", might.Answers[out].Lap-might.Answers[best].Lap, *might.ToBuy[0].Over, 1e-9, 0)

	// Made for the other width, it does not fit.
	wide := runWhatIf(t, append(set, "--stock", "testdata/small/twenty.toml", "--if-bought", "25/26:wide")...)
	assert.Nil(t, wide.ToBuy[0].Lap)

	// With one answer wanted, what it is about is still there.
	narrow := []string{"--track", "saltmere", "--change", "6", "--if-bought", "25/26:narrow", "--stock", "testdata/small/twenty.toml"}
	all := runWhatIf(t, append(narrow, "--answers", "500")...)
	one := runWhatIf(t, append(narrow, "--answers", "1")...)
	require.Less(t, len(one.Answers), len(all.Answers))
	require.NotNil(t, one.ToBuy[0].Lap)
	require.NotNil(t, one.ToBuy[0].Over)
	assert.Equal(t, all.ToBuy, one.ToBuy)
}

// fittedOf is the set that the small stock names as fitted, as --set takes it.
func fittedOf(t *testing.T, stock []byte) string {
	t.Helper()
	line := regexp.MustCompile(`(?m)^fitted = \[(.*)\]`).FindSubmatch(stock)
	require.NotNil(t, line)
	return strings.NewReplacer(`"`, "", " ", "").Replace(string(line[1]))
}

// A pair that is due is no answer, but is named with its reason when it would have
// been the best of them, with the lap that it does once inspected.
func TestRefusedPairsAreNamed(t *testing.T) {
	args := []string{"--track", "saltmere", "--change", "6", "--answers", "3"}
	before := runWhatIf(t, args...)
	best := before.Answers[0]
	require.Positive(t, best.Gain)
	id := best.PairIDs[5]
	path := filepath.Join("..", "..", "..", "..", "cars", "gearbox", "stocks", "wren.toml")
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	marked := regexp.MustCompile(`(?m)^id = "`+regexp.QuoteMeta(id)+`"$`).ReplaceAllString(string(data), "$0\ninspection_due = true")
	require.NotEqual(t, string(data), marked)
	due := filepath.Join(t.TempDir(), "due.toml")
	require.NoError(t, os.WriteFile(due, []byte(marked), 0o600))
	after := runWhatIf(t, append(args, "--stock", due)...)
	for _, a := range after.Answers {
		assert.NotContains(t, a.PairIDs, id)
		assert.Empty(t, a.Refused)
	}
	assert.Equal(t, before.Answers[1].Set, after.Answers[0].Set)
	require.NotEmpty(t, after.Refused)
	assert.LessOrEqual(t, len(after.Refused), mostRefused)
	first := after.Refused[0]
	assert.Equal(t, best.Set, first.Set)
	assert.Equal(t, best.Lap, first.Lap)
	assert.Contains(t, first.Refused, "due for inspection")
	long := runWhatIf(t, "--track", "saltmere", "--change", "6", "--answers", "500", "--stock", due)
	for _, r := range append(after.Refused, long.Refused...) {
		assert.Positive(t, r.Gain)
	}
}

// The lap without the conditions is that of the same question without them.
func TestConditionsAgainstNone(t *testing.T) {
	change := []string{"--track", "quayside", "--change", "6", "--answers", "500"}
	calm := runWhatIf(t, change...)
	assert.Nil(t, calm.Default)
	towed := runWhatIf(t, append(change, "--tow-drag-ratio", "0.8", "--fuel-kg", "5")...)
	require.NotNil(t, towed.Default)
	assert.Equal(t, calm.Base.Lap, towed.Default.Lap)
	numtest.Equal(t, "change of lap", towed.Base.Lap-calm.Base.Lap, towed.Default.Change, 1e-9, 0)
	assert.Negative(t, towed.Default.Change, "less drag and less mass are quicker")
	compared := 0
	for _, a := range towed.Answers {
		require.NotNil(t, a.DefaultLap)
		for _, b := range calm.Answers {
			if slices.Equal(a.PairIDs, b.PairIDs) {
				compared++
				assert.Equal(t, b.Lap, *a.DefaultLap)
				assert.Equal(t, b.Gain, *a.DefaultGain)
			}
		}
	}
	assert.Equal(t, len(calm.Answers), compared)
}

// Headroom that is asked for is kept by every answer on its own lap, and only the
// others go.
func TestWhatIfKeepsHeadroom(t *testing.T) {
	change := []string{"--track", "saltmere", "--change", "6", "--answers", "500"}
	all := runWhatIf(t, change...)
	const asked = 890
	kept := runWhatIf(t, append(change, "--headroom-rpm", fmt.Sprint(asked))...)
	var want, got []string
	for _, a := range all.Answers {
		if a.Headroom == nil || *a.Headroom >= asked || len(a.Gears) == 0 {
			want = append(want, strings.Join(a.PairIDs, " "))
		}
	}
	for _, a := range kept.Answers {
		got = append(got, strings.Join(a.PairIDs, " "))
	}
	assert.Equal(t, want, got)
	assert.Less(t, len(got), len(all.Answers))
}

// Answers with the same lap differ only in gears that it never engages, or not in
// ratio; --answers counts them once.
func TestEqualLapsCountOnce(t *testing.T) {
	f := runWhatIf(t, "--track", "harrowdale", "--change", "6", "--answers", "1")
	require.Greater(t, len(f.Answers), 5, "the fitted set never engages sixth here")
	assert.Empty(t, f.Answers[0].Gears, "the base needs no work at all")
	for i, a := range f.Answers {
		assert.Equal(t, i > 0, a.SameLap)
		assert.False(t, a.Used[5])
		assert.Zero(t, a.Gain)
	}
	f = runWhatIf(t, "--track", "saltmere", "--change", "6")
	for i, a := range f.Answers {
		if a.SameLap {
			assert.Equal(t, f.Answers[i-1].Lap, a.Lap)
			assert.True(t, !a.Used[5] || ratioOf(t, a.Set[5]) == ratioOf(t, f.Answers[i-1].Set[5]))
		}
		if i > 0 {
			assert.GreaterOrEqual(t, a.Lap, f.Answers[i-1].Lap)
		}
		assert.False(t, math.IsNaN(a.Lap))
	}
}

// An interrupt at any moment leaves the whole answer or nothing.
func TestWhatIfInterrupted(t *testing.T) {
	args := []string{"whatif", "-q", "--track", "saltmere", "--change", "5,6", "--format", "json"}
	codes := map[int]int{}
	for i := range 8 {
		ctx, cancel := context.WithCancel(context.Background())
		if i == 0 {
			cancel()
		}
		timer := time.AfterFunc(time.Duration(i)*60*time.Millisecond, cancel)
		var out, errs bytes.Buffer
		code := Main(ctx, args, strings.NewReader(""), &out, &errs)
		timer.Stop()
		cancel()
		codes[code]++
		if code == exitInterrupted {
			assert.Empty(t, out.String())
			assert.Equal(t, "layshaft: interrupted before there was an answer\n", errs.String())
			continue
		}
		require.Equal(t, exitDone, code, errs.String())
		assert.True(t, json.Valid(out.Bytes()))
	}
	assert.Positive(t, codes[exitInterrupted])
}
