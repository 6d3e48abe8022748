package sim

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"layshaft/internal/numtest"
	"layshaft/internal/units"
	"layshaft/tracks"
)

// placeIn is the place x (m) into a segment on the standard day.
func placeIn(t testing.TB, seg tracks.Segment, x float64) place {
	cond := stillAir(0)
	return makePlace(demoCar(t), &seg, x, &cond)
}

// The frame of the road turns with bank and grade; the path's acceleration,
// k·v² to the left and kv·v² up (in the plane that stands on the plan line),
// is laid into it. By hand at a bank of 30° (left low), k = 1/100, kv = -1/200:
// normal 0.01·0.5 - 0.005·0.8660 = 0.00067 per m, lateral 0.01·0.8660 +
// 0.005·0.5 = 0.01116 per m. The grade has grown by 20·(-1/200) = -0.1 rad from
// 0.15 to 0.05 rad: cos 0.99875, sin 0.04998.
func TestPlaceOnACrest(t *testing.T) {
	p := placeIn(t, tracks.Segment{
		Length: 40, K0: 0.01, K1: 0.01, Bank0: 30 * units.FromDeg, Bank1: 30 * units.FromDeg,
		Grade: 0.15, VerticalCurvature: -0.005, Grip: 1,
	}, 20)
	numtest.Equal(t, "kn (1/m)", 0.000670, p.kn, 1e-6, 0)
	numtest.Equal(t, "ky (1/m)", 0.011160, p.ky, 1e-6, 0)
	numtest.Equal(t, "gn (m/s²)", 9.80665*0.99875*0.866025, p.gn, 1e-4, 0)
	numtest.Equal(t, "gy (m/s²)", -9.80665*0.99875*0.5, p.gy, 1e-4, 0)
	numtest.Equal(t, "gx (m/s²)", 9.80665*0.04998, p.gx, 1e-4, 0)
	// On the level a dip presses and a crest lightens, and neither turns.
	dip := placeIn(t, tracks.Segment{Length: 10, VerticalCurvature: 0.01, Grip: 1}, 0)
	numtest.Equal(t, "dip: kn (1/m)", 0.01, dip.kn, 1e-15, 0)
	numtest.Equal(t, "dip: ky (1/m)", 0, dip.ky, 1e-15, 0)
}

// A body leaves a round crest of radius R at v² = gR (textbooks of mechanics;
// common knowledge), whatever its mass. With downforce, still air and equal
// shares of mass and downforce, m(g - v²/R) + l·v² = 0 gives v² = g/(1/R - l/m).
func TestLiftSpeed(t *testing.T) {
	car := demoCar(t)
	car.Aero.DownforceArea = 0
	p := placeIn(t, tracks.Segment{Length: 10, VerticalCurvature: -1.0 / 80, Grip: 1}, 0)
	bare := p
	bare.lift = 0
	b := bodyOf(t, car)
	numtest.Equal(t, "bare crest (m²/s²)", units.Gravity*80, b.liftSpeed(&bare), 0, 1e-12)
	b.aeroF, b.aeroR = b.front, b.rear
	l := p.lift / b.mass // 1/m
	numtest.Equal(t, "with downforce (m²/s²)", units.Gravity/(1.0/80-l), b.liftSpeed(&p), 0, 1e-12)
	for what, seg := range map[string]tracks.Segment{
		"level":                      {Length: 10, Grip: 1},
		"dip":                        {Length: 10, VerticalCurvature: 0.01, Grip: 1},
		"crest that downforce saves": {Length: 10, VerticalCurvature: -0.9 * l, Grip: 1},
	} {
		q := placeIn(t, seg, 0)
		assert.True(t, math.IsInf(b.liftSpeed(&q), 1), what)
	}
	// A car that the air lifts, on the level: g·m = |l|·v².
	up := placeIn(t, tracks.Segment{Length: 10, Grip: 1}, 0)
	up.lift = -up.lift
	numtest.Equal(t, "lifted by the air (m²/s²)", units.Gravity/l, b.liftSpeed(&up), 0, 1e-12)
	up.wind = 1e3
	numtest.Equal(t, "lifted at rest (m²/s²)", 0, b.liftSpeed(&up), 0, 0)
}

// Whatever wind, shares and road: below the lift speed both axles carry load,
// at it one carries none; without one both carry load at any speed.
func TestLiftSpeedIsTheFirst(t *testing.T) {
	b := bodyOf(t, demoCar(t))
	rapid.Check(t, func(t *rapid.T) {
		draw := func(lo, hi float64, what string) float64 { return rapid.Float64Range(lo, hi).Draw(t, what) }
		body := *b
		body.front = draw(0.3, 0.7, "front")
		body.aeroF = draw(0, 1, "downforce in front")
		body.rear, body.aeroR = 1-body.front, 1-body.aeroF
		p := place{gn: draw(5, 9.8, "gn"), kn: draw(-0.05, 0.05, "kn"), lift: draw(-1, 4, "lift"), wind: draw(-60, 60, "wind"), grip: 1}
		least := func(v float64) float64 {
			l := body.at(&p, v)
			return math.Min(l.nf, l.nr)
		}
		u := body.liftSpeed(&p)
		if math.IsNaN(u) || u < 0 {
			t.Fatalf("lift speed² %g", u)
		}
		top := 300.0
		if v := math.Sqrt(u); v < 1e4 {
			top = v * (1 - 1e-9)
			// At most the rounding of loads that cancel.
			slack := 1e-6 * body.mass * p.gn * (1 + u*math.Abs(p.kn))
			if n := least(v) - math.Min(least(0), 0); !(math.Abs(n) <= slack) {
				t.Fatalf("%g N at the lift speed of %g m/s", n, v)
			}
		}
		for i := range 50 {
			if v := top * float64(i) / 50; u > 0 && !(least(v) > 0) {
				t.Fatalf("no load at %g m/s, below the lift speed of %g m/s", v, math.Sqrt(u))
			}
		}
	})
}

// The tow acts where it is said to, and nowhere else.
func TestTowWhere(t *testing.T) {
	car := demoCar(t)
	straight := tracks.Segment{Length: 10, Grip: 1, Places: []string{"after T1", "Back"}}
	corner := tracks.Segment{Length: 10, K0: 0.01, K1: 0.01, Grip: 1, Places: []string{"T1"}}
	for _, c := range []struct {
		where            []string
		straight, corner float64
	}{
		{nil, 0.8, 0.8},
		{[]string{"everywhere"}, 0.8, 0.8},
		{[]string{"straights"}, 0.8, 1},
		{[]string{"Back"}, 0.8, 1},
		{[]string{"T1"}, 1, 0.8},
		{[]string{"T1", "after T1"}, 0.8, 0.8},
		{[]string{"T2"}, 1, 1},
	} {
		cond := stillAir(0)
		cond.TowDrag, cond.TowDownforce, cond.TowWhere = 0.8, 0.7, c.where
		for _, at := range []struct {
			what string
			seg  *tracks.Segment
			want float64
		}{{"straight", &straight, c.straight}, {"corner", &corner, c.corner}} {
			what := fmt.Sprintf("tow at %v: %s", c.where, at.what)
			p := makePlace(car, at.seg, 0, &cond)
			lift := 1.0
			if at.want != 1 {
				lift = 0.7
			}
			numtest.Equal(t, what+", drag (kg/m)", 0.5*1.225*car.Aero.DragArea*at.want, p.drag, 0, 1e-14)
			numtest.Equal(t, what+", downforce (kg/m)", 0.5*1.225*car.Aero.DownforceArea*lift, p.lift, 0, 1e-14)
		}
	}
}

// A tow named place by place over the whole lap is the tow everywhere, and one
// on a single straight is worth something in between.
func TestTowByPlaceAddsUp(t *testing.T) {
	tr := embedded(t, "quayside")
	cond := stillAir(20)
	cond.TowDrag, cond.TowDownforce = 0.8, 0.9
	lap := func(where ...string) *Lap {
		c := cond
		c.TowWhere = where
		return lapOn(t, demoCar(t), tr, c)
	}
	every := lap()
	numtest.Equal(t, "all places (s)", every.Time, lap(tr.PlaceNames()...).Time, 0, 0)
	cond.TowDownforce = 1
	one, all, none := lap("after T12"), lap(tracks.Straights), lapOn(t, demoCar(t), tr, stillAir(20))
	assert.Less(t, one.Time, none.Time)
	assert.Less(t, all.Time, one.Time)
}

func TestBadConditions(t *testing.T) {
	for want, spoil := range map[string]func(*Conditions){
		"fuel: -3 kg is not >= 0; give the kg on board": func(c *Conditions) { c.Fuel = -3 },
		"fuel: NaN kg":                          func(c *Conditions) { c.Fuel = math.NaN() },
		"air density: 0 is not > 0; give kg/m³": func(c *Conditions) { c.AirDensity = 0 },
		"engine factor: -1":                     func(c *Conditions) { c.EngineFactor = -1 },
		"tow drag ratio: 0":                     func(c *Conditions) { c.TowDrag = 0 },
		"tow downforce ratio: +Inf":             func(c *Conditions) { c.TowDownforce = math.Inf(1) },
		"grip factor: 0":                        func(c *Conditions) { c.Grip = 0 },
		"wind: 120 m/s":                         func(c *Conditions) { c.WindSpeed = 120 },
		`tow: "Rokery" is no place of track harrowdale: did you mean "Rookery"?`: func(c *Conditions) { c.TowWhere = []string{"T1", "Rokery"} },
	} {
		cond := stillAir(20)
		spoil(&cond)
		_, err := New(demoCar(t), embedded(t, "harrowdale"), cond, nil)
		require.ErrorContains(t, err, want)
	}
	_, err := New(demoCar(t), embedded(t, "harrowdale"), Conditions{Fuel: -1, TowWhere: []string{"nowhere"}}, nil)
	for _, w := range []string{"air density", "engine factor", "tow drag", "tow downforce", "grip", "fuel", "nowhere"} {
		require.ErrorContains(t, err, w, "all faults at once")
	}
}

func TestBadTracks(t *testing.T) {
	arc := tracks.Segment{Length: 5, K0: -1 / 1.2, K1: -1 / 1.2, Grip: 1, Corner: 0}
	for want, seg := range map[string]tracks.Segment{
		"segment 2 (straight at 50 m): its length of 0 m is not > 0":                                   {Grip: 1, Corner: -1},
		"segment 2 (straight at 50 m): its length is not a finite number":                              {Length: math.NaN(), Grip: 1, Corner: -1},
		"segment 2 (straight at 50 m): its vertical curvature is not a finite number":                  {Length: 5, VerticalCurvature: math.Inf(1), Grip: 1, Corner: -1},
		"segment 2 (straight at 50 m): its grip factor 0 is not > 0":                                   {Length: 5, Corner: -1},
		"segment 2 (straight at 50 m): a grade of 50.0 degrees is steeper than 45":                     {Length: 5, Grade: 50 * units.FromDeg, Grip: 1, Corner: -1},
		"segment 2 (straight at 50 m): a grade of -57.3 degrees is steeper than 45":                    {Length: 5, VerticalCurvature: -0.2, Grip: 1, Corner: -1},
		"segment 2 (T1 Knot): a radius of 1.20 m is less than half the wheelbase of car wren (2.85 m)": arc,
	} {
		b := newTrack().straight(50)
		b.t.Corners = []tracks.Corner{{Name: "Knot"}}
		seg.Start = 50
		b.t.Segments = append(b.t.Segments, seg)
		_, err := New(demoCar(t), b.t, stillAir(0), nil)
		require.ErrorContains(t, err, "track fixture, "+want)
	}
	// All at once, and a corner once, not once for each of its pieces.
	b := newTrack().straight(50)
	b.t.Corners = []tracks.Corner{{Name: "Knot"}}
	b.t.Segments = append(b.t.Segments, arc, arc, tracks.Segment{Corner: -1, Grip: 1})
	err := checkTrack(demoCar(t), b.t)
	require.ErrorContains(t, err, "segment 2")
	require.ErrorContains(t, err, "segment 4")
	require.NotContains(t, err.Error(), "segment 3")
	require.ErrorContains(t, checkTrack(demoCar(t), &tracks.Track{Name: "void"}), "track void has no segments")
	narrow := arc
	narrow.K0, narrow.K1 = -1/1.424, -1/1.424
	require.Error(t, checkTrack(demoCar(t), &tracks.Track{Segments: []tracks.Segment{narrow}, Corners: b.t.Corners}))
	wide := arc
	wide.K0, wide.K1 = -1/1.43, -1/1.43 // half of 2.85 m is 1.425 m
	require.NoError(t, checkTrack(demoCar(t), &tracks.Track{Segments: []tracks.Segment{wide}, Corners: b.t.Corners}))
}
