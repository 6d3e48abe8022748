package sheet

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars"
	"layshaft/cars/gearbox"
	"layshaft/internal/numtest"
)

// The fixture by hand: 500 of 1000 turns at 250 N·m on a centre distance of 80 mm,
// 14 kN for 3 million cycles, exponent 8.738. Fourth gear is 21/31 with 35 % of its
// life used; F = 250/(0.080·21/52) = 7738.1 N, N = 3e6·(14000/7738.1)^8.738.
func TestLifeByHand(t *testing.T) {
	s := mustBuild(t, fixture(6))
	g := &s.Gears[3]
	force := 250 / (0.080 * 21 / 52)
	damage := 500 / (3e6 * math.Pow(14000/force, 8.738))
	numtest.Equal(t, "km per lap", 0.6, *g.KmPerLap, 1e-12, 0)
	numtest.Equal(t, "turns", 1000, *g.TurnsPerLap, 0, 0)
	numtest.Equal(t, "damage per lap", damage, *g.DamagePerLapRatio, 0, 5e-6) // six digits
	numtest.Equal(t, "used", 0.35, g.DamageUsedRatio, 0, 0)
	numtest.Equal(t, "left of the limit (km)", 2100, *g.LifeLeftKm, 0, 0)
	numtest.Equal(t, "left by the estimate (km)", 0.65/damage*3, *g.EstimateLeftKm, 0.1, 1e-5) // 3 km a lap
	require.Equal(t, *g.LifeLeftKm, *g.CountsLeftKm, "the limit is the smaller")
	require.Equal(t, 700, *g.LapsLeft)

	// Third has run 400 km before anything was booked: taken for 400/3 laps.
	third := &s.Gears[2]
	numtest.Equal(t, "run before (km)", 400, third.RunKm, 0, 0)
	numtest.Equal(t, "assumed", 400.0/3**third.DamagePerLapRatio, third.DamageAssumed, 0, 1e-5)
	numtest.Equal(t, "used", third.DamageAssumed, third.DamageUsedRatio, 0, 0)
	numtest.Equal(t, "assumed where all is booked", 0, g.DamageAssumed, 0, 0)

	// The first gear is never engaged and has no limit: nothing is known of it.
	first := &s.Gears[0]
	numtest.Equal(t, "km per lap", 0, *first.KmPerLap, 0, 0)
	for _, none := range []*float64{first.LifeLeftKm, first.EstimateLeftKm, first.CountsLeftKm} {
		assert.Nil(t, none)
	}
	assert.Nil(t, first.LapsLeft)
}

// Kilometres are rounded to 0.1 m so that they still add up: 1000.06, 999.97 and
// 999.97 m would by themselves be rounded to 3000.1 m.
func TestKilometresAddUp(t *testing.T) {
	in := fixture(6)
	for g, way := range []float64{0, 1000.06, 999.97, 999.97, 0, 0} {
		in.Duties[g].Way = way
	}
	s := mustBuild(t, in)
	sum := 0.0
	for _, g := range s.Gears {
		numtest.Equal(t, "in whole 0.1 m", math.Round(*g.KmPerLap*1e4), *g.KmPerLap*1e4, 1e-8, 0)
		sum += *g.KmPerLap
	}
	numtest.Equal(t, "all gears (km)", 3, sum, 1e-12, 0)
	in.Duties[2].Way = 950 // not the lap's length: no rounding mends that
	_, err := Build(in)
	require.ErrorContains(t, err, "the kilometres per gear add up to")
}

// The estimate shortens the limit and never lengthens it, whatever either is.
func TestEstimateNeverLengthens(t *testing.T) {
	seen := map[bool]int{}
	for _, limit := range []float64{0, 500e3, 2500e3} {
		for _, used := range []float64{0, 0.5, 0.9999, 1, 1.4} {
			for _, load := range []float64{0, 100, 450, 900} {
				in := fixture(6)
				for i := range in.Stock.Pairs {
					in.Stock.Pairs[i].LifeM, in.Stock.Pairs[i].Damage = limit, used
				}
				for g := range in.Duties {
					for i := range in.Duties[g].Loads {
						in.Duties[g].Loads[i].Size = load
					}
				}
				for _, g := range mustBuild(t, in).Gears[1:] {
					if limit == 0 {
						require.Equal(t, g.EstimateLeftKm, g.CountsLeftKm)
						require.Nil(t, g.LifeLeftKm)
						continue
					}
					require.LessOrEqual(t, *g.CountsLeftKm, limit/1e3-400)
					if used >= 1 && load > 0 {
						require.Zero(t, *g.CountsLeftKm)
						require.Zero(t, *g.LapsLeft)
					}
					require.LessOrEqual(t, float64(*g.LapsLeft)*3, *g.CountsLeftKm+1e-9)
					seen[*g.CountsLeftKm < *g.LifeLeftKm]++
				}
			}
		}
	}
	require.Greater(t, seen[true], 10)
	require.Greater(t, seen[false], 10)
}

// A drop pair before the layshaft slows it and raises its torque.
func TestLifeBehindADropPair(t *testing.T) {
	in := fixture(6)
	plain := mustBuild(t, in).Gears[3]
	in.Stock.Drops = []gearbox.Drive{{Name: "d", Teeth: gearbox.Teeth{Driving: 20, Driven: 24}, Count: 1, Fitted: true}}
	set := *in.Answer.Set
	set.Drop = &in.Stock.Drops[0]
	in.Answer.Set, in.Answer.Near, in.Alternates = &set, nil, nil
	slow := mustBuild(t, in).Gears[3]
	numtest.Equal(t, "turns", *plain.TurnsPerLap/1.2, *slow.TurnsPerLap, 0.05, 0)
	numtest.Equal(t, "damage", *plain.DamagePerLapRatio/1.2*math.Pow(1.2, 8.738), *slow.DamagePerLapRatio, 0, 1e-5)
}

// Without what the gears stand there are kilometres and no estimate, and the sheet
// says so; without duties there is neither. Torque measured at the wheels warns.
func TestLifeSays(t *testing.T) {
	in := fixture(6)
	in.Box.Endurances = nil
	s := mustBuild(t, in)
	text := render(t, s, Metric)
	assert.Contains(t, text, "No estimate: the gearbox file states no [[damage]]")
	for _, g := range s.Gears {
		assert.NotNil(t, g.KmPerLap)
		assert.Nil(t, g.DamagePerLapRatio)
		assert.Nil(t, g.EstimateLeftKm)
		assert.Equal(t, g.LifeLeftKm, g.CountsLeftKm)
	}
	in = fixture(6)
	in.Box.Slots[0].Kind = "wide"
	in.Stock.Pairs[0].Fits = []string{"wide"}
	in.Answer.Near, in.Alternates = nil, nil
	in.Car.Engine.Place, in.Car.Engine.OverRevRPM = cars.AtWheels, 8300
	text = render(t, mustBuild(t, in), Metric)
	assert.Contains(t, text, "No estimate for gear 1 (wide)")
	assert.Contains(t, text, "TOO LONG")
	assert.Contains(t, text, "above 8300 rpm")
	in.Duties = nil
	s = mustBuild(t, in)
	assert.Nil(t, s.Life)
	assert.Contains(t, render(t, s, Metric), "allows\n"+"--------------------------------------------------------------------------------\nNot computed.")
	in.Duties = fixtureDuties(5)
	_, err := Build(in)
	require.ErrorContains(t, err, "duties of 5 gears")
}

func TestTamperedLife(t *testing.T) {
	for name, c := range map[string]struct {
		tamper func(*Sheet)
		want   string
	}{
		"km of one gear":         {func(s *Sheet) { *s.Gears[2].KmPerLap += 0.0001 }, "kilometres per gear add up to 3.0001, the lap is 3.0000"},
		"km missing":             {func(s *Sheet) { s.Gears[2].KmPerLap = nil }, "gear 3: its kilometres per lap are missing"},
		"km below nothing":       {func(s *Sheet) { *s.Gears[2].KmPerLap *= -1 }, "gear 3: km per lap"},
		"the limit lengthened":   {func(s *Sheet) { *s.Gears[3].LifeLeftKm += 100 }, "gear 4: limit - run is 2200.0, want 2100.0"},
		"the larger counts":      {func(s *Sheet) { *s.Gears[3].CountsLeftKm = *s.Gears[3].EstimateLeftKm }, "gear 4: km left that count"},
		"the estimate":           {func(s *Sheet) { *s.Gears[3].EstimateLeftKm += 0.1 }, "gear 4: km left by the estimate"},
		"laps":                   {func(s *Sheet) { *s.Gears[3].LapsLeft++ }, "gear 4: laps left are 701, want 700"},
		"damage without basis":   {func(s *Sheet) { s.Life.Endurances = nil }, "damage per lap do not go together"},
		"damage used":            {func(s *Sheet) { s.Gears[3].DamageUsedRatio = -0.1 }, "damage below nothing"},
		"a downshift in top":     {func(s *Sheet) { s.Gears[5].DownshiftMaxKmh = s.Gears[4].DownshiftMaxKmh }, "gear 6 is the top gear"},
		"downshift of next gear": {func(s *Sheet) { s.Gears[1].DownshiftMaxKmh = s.Gears[2].DownshiftMaxKmh }, "into the next gear below"},
		"over-rev":               {func(s *Sheet) { s.OverRevRPM = 7000 }, "at 7000 rpm, the limiter of 8000 rpm"},
		"gear of a corner":       {func(s *Sheet) { s.Corners[0].Gear = 7 }, "T1 Sluice: gear 7"},
		"full throttle lower":    {func(s *Sheet) { *s.Corners[0].ThrottleGear = 1 }, "throttle-on in gear 1"},
	} {
		t.Run(name, func(t *testing.T) {
			s := mustBuild(t, fixture(6))
			c.tamper(s)
			require.ErrorContains(t, s.Check(), c.want)
			refuses(t, s)
		})
	}
}
