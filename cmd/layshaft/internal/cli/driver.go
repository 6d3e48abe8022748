package cli

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"layshaft/cars"
	"layshaft/sim"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// driver holds the flags on how the driver shifts.
type driver struct {
	shiftRPM    rpmList
	limiterTime number
}

func (d *driver) flags(c *cobra.Command) {
	d.limiterTime = number{lo: 0.001, hi: 60, unit: "s"}
	f := c.Flags()
	f.Var(&d.shiftRPM, "shift-rpm", "the driver's own shift rpm, first gear first, or one for all gears; default the quickest for the set")
	f.Var(&d.limiterTime, "limiter-time-s", "longest time in s that a gear may be held on the limiter; default any")
}

// asked tells whether the driver has rules of his own.
func (d *driver) asked() bool { return len(d.shiftRPM.list) > 0 || d.limiterTime.given }

// settings checks the flags against the car: one engine speed for each shift up,
// where the engine pulls and the limiter lets it. All faults are told at once.
func (d *driver) settings(car *cars.Car, m *cars.EngineMap) (sim.Settings, error) {
	s := sim.Settings{LimiterTime: d.limiterTime.value}
	list := d.shiftRPM.list
	if len(list) == 0 {
		return s, nil
	}
	shifts := car.Box.Gears - 1
	if len(list) == 1 {
		list = slices.Repeat(list, shifts)
	}
	if len(list) != shifts {
		return s, badInput("--shift-rpm: %d engine speeds for %d shifts up: give %d, first gear first, or one for all", len(list), shifts, shifts)
	}
	var faults []error
	for i, rpm := range list {
		where := fmt.Sprintf("%s rpm out of gear %d", plain(rpm), i+1)
		if len(d.shiftRPM.list) == 1 {
			where = plain(rpm) + " rpm"
		}
		switch {
		case rpm > m.LimiterRPM:
			faults = append(faults, fmt.Errorf("%s is above the limiter of map %q, %s rpm: give less", where, m.Name, plain(m.LimiterRPM)))
		case rpm < m.RPM[0]:
			faults = append(faults, fmt.Errorf("%s is below the torque table of map %q, which begins at %s rpm: give more", where, m.Name, plain(m.RPM[0])))
		case rpm < car.Engine.PullingRPM:
			faults = append(faults, fmt.Errorf("%s is below the car's least pulling engine speed, %s rpm: give more", where, plain(car.Engine.PullingRPM)))
		}
		if len(d.shiftRPM.list) == 1 {
			break
		}
	}
	switch len(faults) {
	case 0:
	case 1:
		return s, badInput("--shift-rpm: %s", faults[0])
	default:
		return s, badInput("--shift-rpm:\n%s", errors.Join(faults...))
	}
	s.ShiftRPM = list
	return s, nil
}

// rpmList is a list of engine speeds in gear order, such as 8900,8850.
type rpmList struct{ list []float64 }

var _ pflag.Value = (*rpmList)(nil)

// leastRPM and mostRPM (1/min) bound the engine speeds that any engine may have.
const leastRPM, mostRPM = 500, 25000

// Set reads the list; it is held against the car later.
func (l *rpmList) Set(s string) error {
	var list []float64
	for i, word := range strings.Split(s, ",") {
		one := number{lo: leastRPM, hi: mostRPM, unit: "rpm"}
		if strings.TrimSpace(word) == "" {
			return fmt.Errorf("place %d of %q is empty: write 8900, or 8900,8850,… by gear, first gear first", i+1, s)
		}
		if err := one.Set(word); err != nil {
			return err
		}
		list = append(list, one.value)
	}
	if len(list) > maxGears-1 {
		return fmt.Errorf("%d engine speeds are more than the %d shifts up that a box may have", len(list), maxGears-1)
	}
	l.list = list
	return nil
}

func (l *rpmList) String() string {
	if l == nil {
		return ""
	}
	words := make([]string, len(l.list))
	for i, rpm := range l.list {
		words[i] = strconv.FormatFloat(rpm, 'f', -1, 64)
	}
	return strings.Join(words, ",")
}

// Type is the placeholder in the help.
func (l *rpmList) Type() string { return "RPM" }
