package gearbox

import (
	"fmt"
	"time"
)

// Day is a calendar day, counted from 1970-01-01; 0 = no day is known.
type Day int

const secondsPerDay = 24 * 60 * 60

// ParseDay reads a calendar date, year-month-day (ISO 8601). Days before
// 1970-01-02 are refused: no crack test is that old.
func ParseDay(text string) (Day, error) {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil || t.Unix() < secondsPerDay {
		return 0, fmt.Errorf("%q is not a date: write year-month-day, such as 2026-05-31", text)
	}
	return Day(t.Unix() / secondsPerDay), nil
}

// DayOf is the calendar day at t, in t's own time zone.
func DayOf(t time.Time) Day {
	y, m, d := t.Date()
	return Day(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / secondsPerDay)
}

// String is year-month-day, "" for no day.
func (d Day) String() string {
	if d == 0 {
		return ""
	}
	return time.Unix(int64(d)*secondsPerDay, 0).UTC().Format(time.DateOnly)
}
