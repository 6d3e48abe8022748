package layering_test

import (
	"fmt"
	"go/ast"
	"reflect"
	"strconv"
	"strings"
	"testing"
)

// unitSuffixes are the endings that a key holding a number may have.
var unitSuffixes = []string{
	// length, area, angle
	"_m", "_mm", "_km", "_m2", "_deg",
	// time and what follows from it
	"_s", "_ms", "_min", "_days", "_kmh", "_mph", "_rpm",
	// mass, force, power, energy, pressure
	"_kg", "_kgm2", "_kgm3", "_n", "_nm", "_kw", "_kj", "_hpa",
	// temperature (degrees Celsius), per cent
	"_c", "_pct", "_percent",
	// quotients
	"_per_m", "_per_rad", "_g_per_kwh", "_s_per_m", "_s2_per_m", "_s2_per_m2", "_teeth",
	// pure numbers
	"_ratio", "_coef", "_count",
}

// plainKeys are the number keys without a unit, each with its reason.
var plainKeys = map[string]string{
	"schema_version": "a number of the format, no quantity",
	"gear":           "the number of a gear; there is no unit to name",
	"number":         "of an entry of the history, from 1",
	"undoes":         "the number of an entry of the history",
	"fork":           "the number of a fork, from 1",
	"forks":          "lists of gear numbers",
	"stack":          "gear numbers in stack order",
	"layouts":        "lists of forks, each a list of gear numbers",
	"position":       "the number of a place in the stack, from 1",
	"stack_position": "the same, in JSON",
	"from":           "the gear that a shift leaves",
	"to":             "the gear that a shift engages",
	"ratio":          "the ratio itself, named by the contract of the JSON output",
	"sets_in_space":  "a count, named by the contract of the JSON output",
	"comes_off":      "gear numbers in the order of removal",
	"changed_gears":  "gear numbers",
	// Of a build order: places in the stack, and the number of a step from 1.
	"stack_positions": "one or two places", "step": "a number in a list",
	// The contract of the JSON output puts the unit first in these.
	"rpm_before": "1/min", "rpm_after": "1/min", "rpm_after_upshift": "1/min", "rpm_drop": "1/min",

	"throttle_on_gear": "the number of a gear",
	"top_speed_gear":   "the number of a gear",
	"km_per_lap":       "km, named by the plan of the pair store",
}

// checkKeys is the rule on the names of keys: every toml, json or csv tag of a
// field that holds a number, or a list of numbers, ends in its unit.
func checkKeys(sources []*source) (complaints []string) {
	named := numberTypes(sources)
	for _, s := range sources {
		if s.isTest() {
			continue
		}
		ast.Inspect(s.ast, func(n ast.Node) bool {
			f, ok := n.(*ast.Field)
			if !ok || f.Tag == nil || !isNumber(f.Type, named[s.dir()]) {
				return true
			}
			literal, err := strconv.Unquote(f.Tag.Value)
			if err != nil {
				complaints = append(complaints, s.at(f)+": tag that is no string")
				return true
			}
			for _, kind := range []string{"toml", "json", "csv"} {
				key, _, _ := strings.Cut(reflect.StructTag(literal).Get(kind), ",")
				if key != "" && key != "-" && !unitKey(key) {
					complaints = append(complaints, fmt.Sprintf(
						"%s: %s key %q holds a number, but does not end in a unit", s.at(f), kind, key))
				}
			}
			return true
		})
	}
	return complaints
}

func unitKey(key string) bool {
	if _, ok := plainKeys[key]; ok {
		return true
	}
	for _, suffix := range unitSuffixes {
		if len(key) > len(suffix) && strings.HasSuffix(key, suffix) {
			return true
		}
	}
	return false
}

// numberTypes finds, per folder, the named types whose values are numbers.
func numberTypes(sources []*source) map[string]map[string]bool {
	named := map[string]map[string]bool{}
	for again := true; again; { // until types of types are found too
		again = false
		for _, s := range sources {
			if named[s.dir()] == nil {
				named[s.dir()] = map[string]bool{}
			}
			for _, decl := range s.ast.Decls {
				d, ok := decl.(*ast.GenDecl)
				if !ok {
					continue
				}
				for _, spec := range d.Specs {
					ts, ok := spec.(*ast.TypeSpec)
					if ok && !named[s.dir()][ts.Name.Name] && isNumber(ts.Type, named[s.dir()]) {
						named[s.dir()][ts.Name.Name] = true
						again = true
					}
				}
			}
		}
	}
	return named
}

// isNumber tells whether a value of the type is a number, or a pointer to,
// list of or map to numbers.
func isNumber(e ast.Expr, named map[string]bool) bool {
	switch v := e.(type) {
	case *ast.Ident:
		switch v.Name {
		case "float64", "float32", "int", "int8", "int16", "int32", "int64",
			"uint", "uint8", "uint16", "uint32", "uint64", "byte", "rune":
			return true
		}
		return named[v.Name]
	case *ast.StarExpr:
		return isNumber(v.X, named)
	case *ast.ArrayType:
		return isNumber(v.Elt, named)
	case *ast.MapType:
		return isNumber(v.Value, named)
	case *ast.SelectorExpr:
		return v.Sel.Name == "Number" && isSelector(v, "json", "Number") || isSelector(v, "big", "Int")
	}
	return false
}

func TestKeys(t *testing.T) { none(t, checkKeys(repository(t))) }
