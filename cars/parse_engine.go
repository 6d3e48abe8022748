package cars

import (
	"fmt"
	"math"
	"strings"

	"layshaft/internal/datafile"
)

// parseEngine checks [engine] and every [[map]].
func parseEngine(d *datafile.Doc, f *file, c *Car) {
	e := &f.Engine
	d.Need("engine.boosted", "engine.shift_margin_rpm", "engine.pulling_rpm")
	c.Engine = Engine{
		Boosted: e.Boosted, ReferencePower: e.CorrectedTo,
		ShiftMarginRPM: e.ShiftMargin, PullingRPM: e.Pulling, OverRevRPM: e.OverRev,
		LaunchRPM: e.Launch, FuelConsumption: e.Consumption * kgPerJ,
	}
	parseMeasurement(d, e, c)
	between(d, "engine.inertia_kgm2", e.Inertia, 0, 5)
	between(d, "engine.shift_margin_rpm", e.ShiftMargin, 0, 2000)
	between(d, "engine.pulling_rpm", e.Pulling, 500, 25000)
	between(d, "engine.over_rev_rpm", e.OverRev, 1000, 25000)
	between(d, "engine.launch_rpm", e.Launch, 500, 25000)
	parseConsumption(d, e)
	parseCorrection(d, e)
	if len(f.Map) == 0 {
		d.Fault("map", "is missing; give at least one torque curve as [[map]] with name, limiter_rpm, speed_rpm and torque_nm")
	}
	names := map[string]bool{}
	for i := range f.Map {
		m := &f.Map[i]
		key := fmt.Sprintf("map[%d]", i+1)
		if names[m.Name] && m.Name != "" {
			d.Fault(key+".name", "%q is taken by an earlier map; names must differ", m.Name)
		}
		names[m.Name] = true
		sound := parseMap(d, key, m)
		c.Engine.Maps = append(c.Engine.Maps, EngineMap{
			Name: m.Name, LimiterRPM: m.Limiter,
			RPM:    append([]float64(nil), m.RPM...),
			Torque: append([]float64(nil), m.Torque...),
		})
		if !sound {
			continue // cross-field rules only on numbers that hold by themselves
		}
		if e.Pulling >= m.Limiter-e.ShiftMargin {
			d.Fault("engine.pulling_rpm", "%g is not below the limiter less the shift margin of map %q (%g - %g rpm)", e.Pulling, m.Name, m.Limiter, e.ShiftMargin)
		}
		if d.Has("engine.over_rev_rpm") && e.OverRev < m.Limiter {
			d.Fault("engine.over_rev_rpm", "%g is below the limiter %g rpm of map %q; leave it out to use the limiter", e.OverRev, m.Limiter, m.Name)
		}
		if e.Pulling < m.RPM[0] {
			c.Warnings = append(c.Warnings, fmt.Sprintf("car %s: pulling_rpm %g lies below the torque table of map %q, which begins at %g rpm; no torque is assumed there: raise it to %g or extend the table", c.Name, e.Pulling, m.Name, m.RPM[0], m.RPM[0]))
		}
		if !d.Has("engine.launch_rpm") {
			c.Engine.LaunchRPM = max(c.Engine.LaunchRPM, m.RPM[0])
		} else if e.Launch < m.RPM[0] || e.Launch > m.Limiter {
			d.Fault("engine.launch_rpm", "%g is outside what the clutch can hold in map %q, from the first speed of the torque table to the limiter (%g to %g rpm); leave it out for the first speed", e.Launch, m.Name, m.RPM[0], m.Limiter)
		}
	}
}

// parseMeasurement takes over where and how the torque was measured. A curve
// that does not say is refused: losses or inertia would count twice or not
// at all.
func parseMeasurement(d *datafile.Doc, e *engineTable, c *Car) {
	if !d.Has("engine.torque_measured_at") {
		d.Fault("engine.torque_measured_at", "is missing; write \"crank\" or \"wheels\": at the wheels, gear losses are already inside the torque")
	} else if d.OneOf("engine.torque_measured_at", e.Place, "crank", "wheels") {
		c.Engine.Place = AtCrank
		if e.Place == "wheels" {
			c.Engine.Place = AtWheels
		}
	}
	if !d.Has("engine.torque_measured_how") {
		d.Fault("engine.torque_measured_how", "is missing; write \"steady\" or \"sweep\": in a sweep, the engine's inertia is already inside the torque")
		return
	}
	if !d.OneOf("engine.torque_measured_how", e.How, "steady", "sweep") {
		return
	}
	c.Engine.Sweep = e.How == "sweep"
	if !c.Engine.Sweep {
		d.Need("engine.inertia_kgm2")
		c.Engine.Inertia = e.Inertia
		return
	}
	c.ignored(e.Inertia > 0, "engine.inertia_kgm2", "the torque was measured in a sweep, so the engine's inertia is inside it (exact only where the car gains rpm as fast as the sweep did)")
}

// corrections (read-only) are the standards that sim/air can undo, spelt as there.
var corrections = [...]string{"SAE J1349", "ISO 1585", "SAE J607", "DIN 70020", "none"}

// parseCorrection checks the standard to which the torque was corrected. Only
// a natural engine needs one: a pressure-charged one that is held to its boost
// does not feel the weather.
func parseCorrection(d *datafile.Doc, e *engineTable) {
	const key = "engine.torque_corrected_to"
	if d.Has(key) {
		d.OneOf(key, e.CorrectedTo, corrections[:]...)
		return
	}
	if !e.Boosted {
		d.Fault(key, "is missing; name the standard to which the torque was corrected: %s, or \"none\" for torque as measured",
			strings.Join(corrections[:len(corrections)-1], ", "))
	}
}

// parseMap checks one [[map]] and returns whether its speeds, torques and
// limiter hold.
func parseMap(d *datafile.Doc, key string, m *mapTable) bool {
	rpm, torque, power := key+".speed_rpm", key+".torque_nm", key+".power_kw"
	d.Need(key+".name", key+".limiter_rpm", rpm, torque)
	if d.Has(key+".name") && m.Name == "" {
		d.Fault(key+".name", "is empty; give the map a name")
	}
	if !d.Has(rpm) || !d.Has(torque) {
		return false
	}
	sound := d.Increasing(rpm, m.RPM)
	for i, n := range m.RPM {
		sound = d.Between(fmt.Sprintf("%s[%d]", rpm, i+1), n, 1, 30000) && sound
	}
	for i, t := range m.Torque {
		sound = d.Positive(fmt.Sprintf("%s[%d]", torque, i+1), t) && sound
	}
	if n := len(m.RPM); n < 3 {
		d.Fault(rpm, "has %d points; a torque curve needs at least 3", n)
		sound = false
	}
	if len(m.Torque) != len(m.RPM) {
		d.Fault(torque, "has %d values for %d engine speeds; give one for each", len(m.Torque), len(m.RPM))
		sound = false
	}
	if !sound {
		return false
	}
	checkPowerColumn(d, power, m)
	if lo, hi := m.RPM[0], m.RPM[len(m.RPM)-1]; d.Has(key+".limiter_rpm") && !(m.Limiter > lo && m.Limiter <= hi) {
		d.Fault(key+".limiter_rpm", "%g lies outside the torque table (%g to %g rpm); extend the table or correct the limiter", m.Limiter, lo, hi)
		return false
	}
	return d.Has(key + ".limiter_rpm")
}

func checkPowerColumn(d *datafile.Doc, key string, m *mapTable) {
	if !d.Has(key) {
		return
	}
	if len(m.Power) != len(m.RPM) {
		d.Fault(key, "has %d values for %d engine speeds; give one for each or leave the column out", len(m.Power), len(m.RPM))
		return
	}
	if i, why := checkPower(m.RPM, m.Torque, m.Power); why != "" {
		d.Fault(fmt.Sprintf("%s[%d]", key, i+1), "%s", why)
	}
}

// kgPerJ turns g/kWh into kg/J: 1 kWh is 3.6 MJ, exact.
const kgPerJ = 1e-3 / 3.6e6

// parseConsumption checks the fuel burnt per work. Petrol has about 43 MJ/kg,
// so that 84 g/kWh would be an engine without losses; piston engines at full
// throttle lie between about 200 and 600 (common practice).
func parseConsumption(d *datafile.Doc, e *engineTable) {
	const key = "engine.fuel_consumption_g_per_kwh"
	if d.Has(key) && e.Consumption != 0 {
		d.Between(key, e.Consumption, 100, 2000)
	}
}

// round4 keeps messages readable: four significant digits.
func round4(v float64) float64 {
	if v == 0 || !finite(v) {
		return v
	}
	p := math.Pow(10, 4-math.Ceil(math.Log10(math.Abs(v))))
	return math.Round(v*p) / p
}
