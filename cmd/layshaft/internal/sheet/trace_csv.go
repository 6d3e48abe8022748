package sheet

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
)

// Decimals of a trace as CSV, beside those of times and speeds.
const (
	traceDistDecimals = 3
	traceRPMDecimals  = 1
)

// traceRowsMost is how many rows a trace may have: what a spreadsheet still opens.
const traceRowsMost = 1_000_000

// ErrNoTrace says that a report was made without its samples.
var ErrNoTrace = errors.New("the report holds no trace")

// TraceCSV writes the trace as comma-separated values: a header whose columns end
// in their unit, decimal points, one line feed after each row, an empty cell where
// there is no value. step is the distance (m) between rows, at a steady acceleration
// between samples and with the lap's end as last row; 0 = every sample of the lap,
// which stand closest where most happens.
//
// gear and phase are those of the last sample at or before the row. Within a
// shift the engine speed is that of the gear which is left.
func (r *LapReport) TraceCSV(w io.Writer, step float64) error {
	if len(r.Trace) < 2 {
		return ErrNoTrace
	}
	if err := r.Check(); err != nil {
		return err
	}
	points := r.Trace
	if step > 0 {
		first, last := points[0].DistanceM, points[len(points)-1].DistanceM
		if (last-first)/step > traceRowsMost {
			return fmt.Errorf("a step of %g m makes more than %d rows", step, traceRowsMost)
		}
		points = resample(points, step)
	}
	b := bufio.NewWriter(w)
	_, _ = b.WriteString("distance_m,time_s,speed_kmh,gear,engine_rpm,phase,limit_kmh,lost_s\n")
	for i := range points {
		p := &points[i]
		_, _ = fmt.Fprintf(b, "%s,%s,%s,%d,%s,%s,%s,%s\n", fixed(p.DistanceM, traceDistDecimals), fixed(p.TimeS, timeDecimals),
			fixed(p.SpeedKmh, speedDecimals), p.Gear, fixed(p.EngineRPM, traceRPMDecimals), p.Phase,
			traceCell(p.LimitKmh, speedDecimals), traceCell(p.LostS, timeDecimals))
	}
	return b.Flush() // keeps the first error of the writes above
}

func traceCell(v *float64, decimals int) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'f', decimals, 64)
}

// resample reads the trace at every whole multiple of the step (m), and at its ends.
func resample(points []TracePoint, step float64) []TracePoint {
	last := &points[len(points)-1]
	out := []TracePoint{points[0]}
	i := 0
	for k := int(math.Floor(points[0].DistanceM/step)) + 1; ; k++ {
		s := float64(k) * step
		if s >= last.DistanceM-1e-9 {
			return append(out, *last)
		}
		for points[i+1].DistanceM <= s {
			i++
		}
		out = append(out, between(&points[i], &points[i+1], s))
	}
}

// between is the trace at s (m) from a to b.
func between(a, b *TracePoint, s float64) TracePoint {
	f := (s - a.DistanceM) / (b.DistanceM - a.DistanceM)
	mix := func(x, y float64) float64 { return x + (y-x)*f }
	v, late := math.Sqrt(mix(a.SpeedKmh*a.SpeedKmh, b.SpeedKmh*b.SpeedKmh)), f
	if a.SpeedKmh+v > 0 {
		late *= (a.SpeedKmh + b.SpeedKmh) / (a.SpeedKmh + v)
	}
	p := TracePoint{
		DistanceM: s, TimeS: a.TimeS + (b.TimeS-a.TimeS)*late, SpeedKmh: v,
		Gear: a.Gear, EngineRPM: mix(a.EngineRPM, b.EngineRPM), Phase: a.Phase,
	}
	switch {
	case a.Gear != b.Gear && a.SpeedKmh > 0:
		p.EngineRPM = a.EngineRPM * v / a.SpeedKmh
	case a.SpeedKmh != b.SpeedKmh: // in the same gear in proportion; off the line the clutch slips
		p.EngineRPM = a.EngineRPM + (b.EngineRPM-a.EngineRPM)*(v-a.SpeedKmh)/(b.SpeedKmh-a.SpeedKmh)
	}
	if a.LimitKmh != nil && b.LimitKmh != nil {
		v := mix(*a.LimitKmh, *b.LimitKmh)
		p.LimitKmh = &v
	}
	if a.LostS != nil && b.LostS != nil {
		v := mix(*a.LostS, *b.LostS)
		p.LostS = &v
	}
	return p
}
