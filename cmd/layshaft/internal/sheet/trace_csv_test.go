package sheet

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/internal/numtest"
)

func traced(t *testing.T) *LapReport {
	in := fixtureLapInput()
	r, err := BuildLap(in)
	require.NoError(t, err)
	return r
}

// The CSV says what the JSON says, row by row, and a reader of CSV takes it.
func TestTraceCSV(t *testing.T) {
	r := traced(t)
	var b bytes.Buffer
	require.NoError(t, r.TraceCSV(&b, 0))
	rows, err := csv.NewReader(bytes.NewReader(b.Bytes())).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, len(r.Trace)+1)
	assert.Equal(t, []string{"distance_m", "time_s", "speed_kmh", "gear", "engine_rpm", "phase", "limit_kmh", "lost_s"}, rows[0])
	for i, p := range r.Trace {
		for c, want := range map[int]float64{0: p.DistanceM, 1: p.TimeS, 2: p.SpeedKmh, 3: float64(p.Gear), 4: p.EngineRPM} {
			got, err := strconv.ParseFloat(rows[i+1][c], 64)
			require.NoError(t, err)
			numtest.Equal(t, rows[0][c], want, got, 1e-9, 0)
		}
		assert.Equal(t, p.Phase, rows[i+1][5])
		assert.Equal(t, p.LimitKmh == nil, rows[i+1][6] == "", "no limit is an empty cell")
	}
	assert.NotContains(t, b.String(), "\r")
	assert.True(t, strings.HasSuffix(b.String(), "\n"))
	r.Trace = nil
	require.ErrorIs(t, r.TraceCSV(&b, 0), ErrNoTrace)
}

// Rows at equal steps lie at a steady acceleration between the samples; gear and
// phase come from before; the ends stay.
func TestTraceResampled(t *testing.T) {
	limit := 200.0
	points := []TracePoint{
		{DistanceM: 0, TimeS: 0, SpeedKmh: 100, Gear: 2, EngineRPM: 5000, Phase: "driving", LimitKmh: &limit},
		{DistanceM: 10, TimeS: 1, SpeedKmh: 120, Gear: 2, EngineRPM: 6000, Phase: "shifting", LimitKmh: &limit},
		{DistanceM: 10, TimeS: 1, SpeedKmh: 120, Gear: 2, EngineRPM: 6000, Phase: "shifting"},
		{DistanceM: 14, TimeS: 2, SpeedKmh: 90, Gear: 3, EngineRPM: 3000, Phase: "driving"},
		{DistanceM: 15, TimeS: 3, SpeedKmh: 90, Gear: 3, EngineRPM: 3000, Phase: "driving"},
	}
	got := resample(points, 4)
	require.Len(t, got, 5)
	for i, s := range []float64{0, 4, 8, 12, 15} {
		numtest.Equal(t, "distance, m", s, got[i].DistanceM, 1e-12, 0)
	}
	v := math.Sqrt(100*100 + 0.4*(120*120-100*100))
	numtest.Equal(t, "time, s", (v-100)/(120-100), got[1].TimeS, 1e-12, 0)
	numtest.Equal(t, "rpm, as the speed", 5000*v/100, got[1].EngineRPM, 1e-9, 0)
	numtest.Equal(t, "speed, km/h", math.Sqrt(100*100+0.8*(120*120-100*100)), got[2].SpeedKmh, 1e-12, 0)
	numtest.Equal(t, "limit, km/h", 200, *got[2].LimitKmh, 1e-12, 0)
	assert.Equal(t, 2, got[3].Gear)
	numtest.Equal(t, "rpm of the gear that is left", 6000*math.Sqrt((120*120+90*90)/2.0)/120, got[3].EngineRPM, 1e-9, 0)
	assert.Nil(t, got[3].LimitKmh)
	assert.Equal(t, points[4], got[4])
}

// A car that brakes from 36 m/s at 20 m/s2: v^2 = 36^2 - 40 s, t = (36-v)/20. On a
// straight line between samples 14 m apart the row half way would be late by 15 ms,
// hundreds of times the lap's numerical error.
func TestTraceResampledWhileBraking(t *testing.T) {
	at := func(s float64) TracePoint {
		v := math.Sqrt(36*36 - 40*s)
		return TracePoint{DistanceM: s, TimeS: (36 - v) / 20, SpeedKmh: v * 3.6, EngineRPM: 250 * v, Gear: 2, Phase: "capped"}
	}
	for _, p := range resample([]TracePoint{at(0), at(14), at(28)}, 1) {
		want := at(p.DistanceM)
		numtest.Equal(t, "time, s", want.TimeS, p.TimeS, 1e-12, 0)
		numtest.Equal(t, "speed, km/h", want.SpeedKmh, p.SpeedKmh, 1e-10, 0)
		numtest.Equal(t, "rpm", want.EngineRPM, p.EngineRPM, 1e-8, 0)
	}
}
