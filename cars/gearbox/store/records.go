package store

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"layshaft/cars/gearbox"
)

// Buckets of the database, each a table of records by key. Their names are part
// of the file format.
const (
	bucketMeta    = "meta"    // one record, metaKey
	bucketPairs   = "pairs"   // by id
	bucketDrives  = "drives"  // by kind and name
	bucketCars    = "cars"    // by car: what is fitted
	bucketSheets  = "sheets"  // issued ratio sheets, by sheetKey
	bucketTexts   = "texts"   // saved ratio sheets as they were read, by SHA-256; never changed
	bucketHistory = "history" // by number, big-endian
)

// recordBuckets are those whose records change and can be put back.
func recordBuckets() []string {
	return []string{bucketMeta, bucketPairs, bucketDrives, bucketCars, bucketSheets}
}

const (
	metaKey = "stock"
	// format is the version of the records. A program reads no other.
	format = 1
)

// errFormat is a store of another version.
var errFormat = errors.New("was written by another version of the program")

type metaRecord struct {
	Format int    `json:"format_count"`
	Name   string `json:"name"`
	Title  string `json:"title"`
}

type pairRecord struct {
	Layshaft     int      `json:"layshaft_teeth"`
	Mainshaft    int      `json:"mainshaft_teeth"`
	Mark         string   `json:"mark"`
	Half         string   `json:"half,omitempty"`
	Fits         []string `json:"fits"`
	DogSide      string   `json:"dog_side,omitempty"`
	Group        string   `json:"group,omitempty"`
	RunM         float64  `json:"run_m"`
	LifeM        float64  `json:"life_m,omitempty"`
	Damage       float64  `json:"damage_ratio,omitempty"`
	DamageM      float64  `json:"damage_over_m,omitempty"`
	CrackOn      string   `json:"crack_tested,omitempty"`
	CrackAtM     float64  `json:"crack_tested_at_m,omitempty"`
	CrackDays    int      `json:"crack_test_every_days,omitempty"`
	CrackEveryM  float64  `json:"crack_test_every_m,omitempty"`
	LimiterCount int      `json:"limiter_count,omitempty"`
	LimiterMost  int      `json:"limiter_most_count,omitempty"`
	Due          bool     `json:"inspection_due,omitempty"`
	Causes       []string `json:"inspection_causes,omitempty"`
	Retired      bool     `json:"retired,omitempty"`
	Place        string   `json:"place,omitempty"`
	Car          string   `json:"car,omitempty"`
	Gear         int      `json:"gear,omitempty"`
	Note         string   `json:"note,omitempty"`
}

func pairToRecord(p *gearbox.Pair) pairRecord {
	return pairRecord{
		Layshaft: p.Layshaft, Mainshaft: p.Mainshaft, Mark: p.Mark, Half: p.Half, Fits: p.Fits, DogSide: p.DogSide, Group: p.Group,
		RunM: p.RunM, LifeM: p.LifeM, Damage: p.Damage, DamageM: p.DamageM,
		CrackOn: p.Crack.On.String(), CrackAtM: p.Crack.AtM, CrackDays: p.Crack.Days, CrackEveryM: p.Crack.EveryM,
		LimiterCount: p.LimiterCount, LimiterMost: p.LimiterMost, Due: p.InspectionDue, Causes: p.Causes,
		Retired: p.Retired, Place: p.Place, Car: p.Car, Gear: p.Gear, Note: p.Note,
	}
}

func (r *pairRecord) pair(id string) (gearbox.Pair, error) {
	p := gearbox.Pair{
		ID: id, Layshaft: r.Layshaft, Mainshaft: r.Mainshaft, Mark: r.Mark, Half: r.Half, Count: 1, Fits: r.Fits, DogSide: r.DogSide, Group: r.Group,
		RunM: r.RunM, LifeM: r.LifeM, Damage: r.Damage, DamageM: r.DamageM,
		Crack:        gearbox.CrackTest{AtM: r.CrackAtM, Days: r.CrackDays, EveryM: r.CrackEveryM},
		LimiterCount: r.LimiterCount, LimiterMost: r.LimiterMost, InspectionDue: r.Due, Causes: r.Causes,
		Retired: r.Retired, Place: r.Place, Car: r.Car, Gear: r.Gear, Note: r.Note,
	}
	if r.CrackOn != "" {
		day, err := gearbox.ParseDay(r.CrackOn)
		if err != nil {
			return p, err
		}
		p.Crack.On = day
	}
	return p, nil
}

// Kinds of drives, the first part of their keys.
const (
	finalDrive = "final_drive"
	dropPair   = "drop_pair"
)

type driveRecord struct {
	Kind     string   `json:"kind"`
	Name     string   `json:"name"`
	Driving  int      `json:"driving_teeth"`
	Driven   int      `json:"driven_teeth"`
	Count    int      `json:"pair_count"`
	FittedIn []string `json:"fitted_in,omitempty"`
}

// carRecord is what is known of a car beside the pairs, which say so themselves.
type carRecord struct {
	SheetSHA string `json:"sheet_sha256"` // the ratio sheet that it was built from, in bucketTexts
}

// Issued is a ratio sheet that was issued.
type Issued struct {
	Car      string `json:"car"` // of the team's cars
	Track    string `json:"track"`
	Event    string `json:"event"`
	Session  string `json:"session"`
	Revision int    `json:"revision_count"`
	IssuedBy string `json:"issued_by"`
	Date     string `json:"date"`
	Set      string `json:"set"` // in words
	SHA256   string `json:"sha256"`
}

// Name is the sheet's number with who issued it when.
func (s *Issued) Name() string {
	said := func(v string) string {
		if v == "" {
			return "(not said)"
		}
		return v
	}
	return fmt.Sprintf("revision %d, issued %s by %s", s.Revision, said(s.Date), said(s.IssuedBy))
}

// key tells issued sheets apart: one number is given once.
func (s *Issued) key() string {
	return fmt.Sprintf("%q %q %q %q %04d", s.Car, s.Track, s.Event, s.Session, s.Revision)
}

// same tells whether two sheets are revisions of one.
func (s *Issued) same(o *Issued) bool {
	return s.Car == o.Car && s.Track == o.Track && s.Event == o.Event && s.Session == o.Session
}

// encode writes the snapshot as records by bucket and key. Same snapshot, same
// bytes.
func (s *Snapshot) encode() (map[string]map[string][]byte, error) {
	out := map[string]map[string][]byte{}
	var fault error
	put := func(bucket, key string, v any) {
		raw, err := json.Marshal(v)
		if err != nil && fault == nil {
			fault = fmt.Errorf("%s %s: %w", bucket, key, err)
		}
		if out[bucket] == nil {
			out[bucket] = map[string][]byte{}
		}
		if _, twice := out[bucket][key]; twice && fault == nil {
			fault = fmt.Errorf("%s %s stands there twice", bucket, key)
		}
		out[bucket][key] = raw
	}
	put(bucketMeta, metaKey, metaRecord{format, s.Stock.Name, s.Stock.Title})
	for i := range s.Stock.Pairs {
		p := &s.Stock.Pairs[i]
		put(bucketPairs, p.ID, pairToRecord(p))
	}
	drives := func(kind string, all []gearbox.Drive) {
		for _, d := range all {
			put(bucketDrives, kind+" "+d.Name, driveRecord{kind, d.Name, d.Driving, d.Driven, d.Count, d.FittedIn})
		}
	}
	drives(finalDrive, s.Stock.Finals)
	drives(dropPair, s.Stock.Drops)
	for car, sha := range s.builtFrom {
		put(bucketCars, car, carRecord{sha})
	}
	for i := range s.Sheets {
		put(bucketSheets, s.Sheets[i].key(), &s.Sheets[i])
	}
	return out, fault
}

// decode fills the snapshot from records, each bucket in the order of its keys.
func (s *Snapshot) decode(bucket, key string, raw []byte) error {
	var err error
	switch bucket {
	case bucketMeta:
		var r metaRecord
		if err = json.Unmarshal(raw, &r); err == nil && r.Format != format {
			err = fmt.Errorf("%w (format %d, this one reads %d): read it with that version, and import its export here", errFormat, r.Format, format)
		}
		s.Stock.Name, s.Stock.Title = r.Name, r.Title
	case bucketPairs:
		var r pairRecord
		if err = json.Unmarshal(raw, &r); err == nil {
			var p gearbox.Pair
			p, err = r.pair(key)
			s.Stock.Pairs = append(s.Stock.Pairs, p)
		}
	case bucketDrives:
		var r driveRecord
		err = json.Unmarshal(raw, &r)
		d := gearbox.Drive{Name: r.Name, Teeth: gearbox.Teeth{Driving: r.Driving, Driven: r.Driven}, Count: r.Count, FittedIn: r.FittedIn}
		if r.Kind == dropPair {
			s.Stock.Drops = append(s.Stock.Drops, d)
		} else {
			s.Stock.Finals = append(s.Stock.Finals, d)
		}
	case bucketCars:
		var r carRecord
		err = json.Unmarshal(raw, &r)
		s.builtFrom[key] = r.SheetSHA
	case bucketSheets:
		var r Issued
		err = json.Unmarshal(raw, &r)
		s.Sheets = append(s.Sheets, r)
	}
	return err
}

// sort puts pairs in the order of the workshop: shortest gear first, then id.
func (s *Snapshot) sort() {
	slices.SortStableFunc(s.Stock.Pairs, func(a, b gearbox.Pair) int { return gearbox.ByFallingRatio(&a, &b) })
}
