package sheet

import (
	"encoding/json"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"layshaft/cars/gearbox"
	"layshaft/optimize"
)

// contract is the published JSON contract of each command: path -> kind, where
// a trailing ? admits null. [] stands for the members of a list, which must
// have at least one in the fixture.
var contract = map[string]map[string]string{
	"sheet": {
		"schema_version": "number", "lap_time_s": "number", "numerical_error_s": "number", "top_speed_kmh": "number",
		"final_drive": "object", "final_drive.driving_teeth": "number", "final_drive.driven_teeth": "number",
		"drop": "object?", "gears": "list",
		"gears[].gear": "number", "gears[].pair_id": "string", "gears[].layshaft_teeth": "number", "gears[].mainshaft_teeth": "number",
		"gears[].mark": "string", "gears[].ratio": "number", "gears[].overall_ratio": "number", "gears[].step_ratio": "number?",
		"gears[].upshift_rpm": "number?", "gears[].rpm_after_upshift": "number?", "gears[].rpm_drop": "number?",
		"gears[].speed_at_upshift_kmh": "number?", "gears[].speed_at_limiter_kmh": "number", "gears[].used_on_lap": "bool",
		"gears[].fork": "number", "gears[].stack_position": "number",
		"forks": "list", "forks[]": "list", "forks[][]": "number", "stack": "list", "stack[]": "number",
		"alternates": "list", "alternates[].gear": "number", "alternates[].layshaft_teeth": "number", "alternates[].mainshaft_teeth": "number",
		"alternates[].lap_time_s": "number", "alternates[].loss_s": "number", "alternates[].condition": "string", "alternates[].comes_off": "list",
		"search": "object", "search.status": "string", "search.open_because": "string?", "search.gap_s": "number?", "search.sets_in_space": "number?",
		"on_limiter_s": "number", "shift_margin_rpm": "number", "sensitivities": "object", "sensitivities.shift_rpm_minus_100_s": "number?",
		"sensitivities.shift_rpm_plus_100_s": "number?", "sensitivities.shift_inertia_return_s": "number?",
		"bench": "object", "bench.depth_min": "list", "bench.depth_min[]": "number", "bench.opening_min": "number", "bench.per_pair_min": "number",
		"bench.closing_min": "number", "bench.carrier_after_count": "number", "bench.slots": "list", "bench.slots[].cut_on_layshaft": "bool",
		"build_steps_stated": "bool", "build_order": "list", "build_order[].step": "number", "build_order[].part": "string",
		"build_order[].shaft": "string", "build_order[].stack_positions": "list", "build_order[].stack_positions[]": "number",
		"build_order[].gears": "list", "build_order[].gears[].gear": "number", "build_order[].gears[].pair_id": "string",
		"build_order[].gears[].teeth_count": "number?", "build_order[].gears[].mark": "string", "build_order[].gears[].dog_side": "string",
		"build_order[].marks_face": "string", "build_order[].fork": "number?", "build_order[].must_be_new": "bool",
		"build_order[].maker_note": "object?", "build_order[].text": "string",
		"loss": "object?", "no_loss_reason": "string", "loss.ideal_lap_time_s": "number", "loss.total_loss_s": "number", "loss.ideal_choices_count": "number",
		"loss.gears": "list", "loss.gears[].gear": "number", "loss.gears[].pulling_loss_s": "number", "loss.gears[].limiter_loss_s": "number",
		"loss.gears[].shift_loss_s": "number", "loss.gears[].limit_loss_s": "number", "loss.gears[].loss_s": "number",
		"loss.places": "list", "loss.places[].place": "string", "loss.places[].from_m": "number", "loss.places[].to_m": "number",
		"loss.places[].loss_s": "number", "loss.places[].gear": "number?",
		"gears[].km_per_lap": "number?", "gears[].layshaft_turns_per_lap_count": "number?", "gears[].damage_per_lap_ratio": "number?",
		"gears[].damage_used_ratio": "number", "gears[].life_left_km": "number?", "gears[].estimate_left_km": "number?",
		"gears[].counts_left_km": "number?", "gears[].laps_left_count": "number?", "gears[].downshift_speed_max_kmh": "number?",
		"limiter_touches_per_lap_count": "number", "over_rev_rpm": "number", "life": "object?", "life.endurances": "list",
		"life.endurances[].exponent_coef": "number", "life.endurances[].source": "string",
		"corners": "list", "corners[].corner": "string", "corners[].distance_m": "number", "corners[].gear": "number", "corners[].apex_speed_kmh": "number",
		"corners[].throttle_on_gear": "number?", "corners[].throttle_on_rpm": "number?",
		"conditions": "object", "conditions.driver_shift_rpm": "list?", "conditions.limiter_most_s": "number?", "inputs": "list", "inputs[].name": "string", "inputs[].sha256": "string",
		"warnings": "list", "warnings[]": "string",
	},
	"lap": {
		"schema_version": "number", "lap_time_s": "number", "top_speed_kmh": "number", "numerical_error_s": "number", "shifts": "list",
		"shifts[].distance_m": "number", "shifts[].from": "number", "shifts[].to": "number", "shifts[].rpm_before": "number",
		"shifts[].rpm_after": "number", "shifts[].speed_kmh": "number", "kind": "string", "laps": "list", "laps[].kind": "string",
		"laps[].lap_time_s": "number", "laps[].fuel_burnt_kg": "number?", "fuel_burnt_kg": "number?", "average_lap_time_s": "number",
		"on_limiter_s": "number", "shift_margin_rpm": "number", "energy_kj": "object", "energy_kj.engine_kj": "number", "energy_kj.residual_kj": "number",
		"sensitivities": "object?", "loss": "object?", "no_loss_reason": "string", "trace[].lost_s": "number?",
	},
	"whatif": {
		"schema_version": "number", "base": "object", "answers": "list", "answers[].set": "list", "answers[].lap_time_s": "number",
		"answers[].gain_s": "number", "answers[].headroom_rpm": "number?", "answers[].comes_off": "list",
		"answers[].changed_pairs": "list", "answers[].throttle_on": "list", "answers[].limiter_places": "list", "answers[].must_be_new": "list?",
		"answers[].in_stock": "bool", "answers[].same_lap_as_before": "bool", "answers[].gain_default_conditions_s": "number?",
		"wishes": "list", "quicker_but": "list", "not_in_stock": "list", "base_default_conditions": "object?",
	},
	"compare": {
		"schema_version": "number", "old": "object", "old.name": "string", "old.lap_time_s": "number", "old.set": "list", "new": "object",
		"new.revision_count": "number", "differs": "list", "not_comparable": "list", "gain_s": "number?", "out_lap_gain_s": "number?",
		"numerical_error_s": "number", "top_speed_change_kmh": "number?", "headroom_change_rpm": "number?", "on_limiter_change_s": "number?",
		"gears": "list", "gears[].gear": "number", "gears[].changed": "bool", "gears[].old": "object?", "gears[].new": "object?",
		"gears[].upshift_change_rpm": "number?", "gears[].limiter_change_kmh": "number?", "gears[].ratio_change_pct": "number?",
		"rebuild": "object?", "no_rebuild_reason": "string", "cautions": "list", "wheel_turns": "list", "inputs": "list", "warnings": "list",
	},
	"rebuild": {
		"rebuild.changed_gears": "list", "rebuild.everything_comes_off": "bool", "rebuild.bench_min": "number", "rebuild.comes_off": "list",
		"rebuild.comes_off[]": "number", "rebuild.off": "list", "rebuild.off[].step": "number", "rebuild.off[].part": "string",
		"rebuild.off[].changed": "bool", "rebuild.on": "list", "rebuild.on[].gears": "list", "rebuild.on[].must_be_new": "bool",
		"rebuild.must_be_new": "list", "rebuild.pairs_out_of_gearbox": "list", "rebuild.pairs_out_of_gearbox[].pair_id": "string",
		"rebuild.pairs_into_gearbox": "list", "rebuild.pairs_into_gearbox[].to": "number?", "rebuild.pairs_moved": "list",
		"rebuild.other_final_drive": "bool", "rebuild.other_drop": "bool",
	},
	"card": {
		"schema_version": "number", "gears": "list", "gears[].gear": "number", "gears[].shift_light_rpm": "number?", "gears[].speed_at_upshift_kmh": "number?",
		"gears[].rpm_drop": "number?", "gears[].rpm_after_upshift": "number?", "gears[].downshift_speed_max_kmh": "number?",
		"corners": "list", "corners[].gear": "number", "upshifts_per_lap_count": "number", "downshifts_per_lap_count": "number",
		"top_speed_kmh": "number", "set": "list", "date": "string", "revision_count": "number",
	},
	"barrel": {"schema_version": "number", "layouts": "list", "layouts[]": "list", "layouts[][]": "list", "layouts[][][]": "number"},
	"list":   {"schema_version": "number", "items": "list", "items[].name": "string"},
}

// walk visits every value under the path.
func walk(v any, path string, visit func(any)) bool {
	switch {
	case path == "":
		visit(v)
		return true
	case strings.HasPrefix(path, "[]"):
		list, ok := v.([]any)
		found := false
		for _, m := range list {
			found = walk(m, strings.TrimPrefix(path[2:], "."), visit) || found
		}
		return ok && found
	}
	end := strings.IndexAny(path, ".[")
	key, rest := path, ""
	if end >= 0 {
		key, rest = path[:end], strings.TrimPrefix(path[end:], ".")
	}
	object, ok := v.(map[string]any)
	if !ok {
		return false
	}
	member, ok := object[key]
	return ok && walk(member, rest, visit)
}

func kind(v any) string {
	switch v.(type) {
	case nil:
		return "null"
	case json.Number:
		return "number"
	case string:
		return "string"
	case bool:
		return "bool"
	case []any:
		return "list"
	}
	return "object"
}

func parse(t *testing.T, text string) any {
	t.Helper()
	d := json.NewDecoder(strings.NewReader(text))
	d.UseNumber()
	var v any
	require.NoError(t, d.Decode(&v))
	return v
}

func TestJSONContract(t *testing.T) {
	proved := mustBuild(t, fixture(6))
	in := fixture(6)
	in.Answer.Status, in.Answer.SetsInSpace = optimize.Given, nil
	in.Answer.Lap.MaxRPM[5], in.Answer.Lap.TimeInGear[5] = 0, 0
	given := mustBuild(t, in)
	whatif, err := BuildWhatIf(fixtureWhatIf())
	require.NoError(t, err)
	lap, err := BuildLap(fixtureLapInput())
	require.NoError(t, err)
	run, err := BuildLap(fixtureRun())
	require.NoError(t, err)
	study, err := StudyLayouts(6, false)
	require.NoError(t, err)
	barrel, err := BuildBarrel(fixtureBox(5, "Heron (invented)"), nil)
	require.NoError(t, err)
	compare, err := BuildComparison(Compared{Sheet: given, Name: "a"}, Compared{Sheet: mustBuild(t, otherThird()), Name: "b"})
	require.NoError(t, err)
	for name, c := range map[string]struct {
		command string
		view    View
	}{
		"compare": {"compare", compare}, "rebuild": {"rebuild", compare},

		"proved sheet": {"sheet", proved}, "given sheet": {"sheet", given}, "what-if": {"whatif", whatif},
		"card": {"card", mustDriverCard(t, proved)},
		"lap":  {"lap", lap}, "run": {"lap", run}, "study": {"barrel", study}, "barrel": {"barrel", barrel}, "listing": {"list", fixtureListing()},
	} {
		t.Run(name, func(t *testing.T) {
			root := parse(t, renderJSON(t, c.view))
			for path, want := range contract[c.command] {
				found := walk(root, path, func(v any) {
					got := kind(v)
					if strings.HasSuffix(want, "?") && got == "null" {
						return
					}
					assert.Equal(t, strings.TrimSuffix(want, "?"), got, path)
				})
				assert.True(t, found, "%s is missing", path)
			}
		})
	}
}

// What has no value is present and null; what is given is told from what was
// searched; a count is exact beyond the reach of a float64.
func TestJSONNulls(t *testing.T) {
	in := fixture(6)
	huge, _ := new(big.Int).SetString("123456789012345678901", 10)
	in.Answer.SetsInSpace = huge
	root := parse(t, renderJSON(t, mustBuild(t, in))).(map[string]any)
	assert.Equal(t, json.Number("123456789012345678901"), root["search"].(map[string]any)["sets_in_space"])
	top := root["gears"].([]any)[5].(map[string]any)
	for _, key := range []string{"step_ratio", "upshift_rpm", "rpm_after_upshift", "rpm_drop", "speed_at_upshift_kmh"} {
		v, ok := top[key]
		assert.True(t, ok, key)
		assert.Nil(t, v, key)
	}
	v, ok := root["drop"]
	assert.True(t, ok)
	assert.Nil(t, v)

	in.Answer.Status = optimize.Given
	search := parse(t, renderJSON(t, mustBuild(t, in))).(map[string]any)["search"].(map[string]any)
	assert.Equal(t, "given", search["status"])
	assert.Nil(t, search["gap_s"])
}

// The keys of a JSON object stand in the order of the contract, and the same
// input gives the same bytes.
func TestJSONOrderAndBytes(t *testing.T) {
	text := renderJSON(t, mustBuild(t, fixture(6)))
	assert.Equal(t, text, renderJSON(t, mustBuild(t, fixture(6))))
	at := -1
	for _, key := range []string{"schema_version", "lap_time_s", "numerical_error_s", "top_speed_kmh", "final_drive", "drop", "gears", "forks", "stack", "alternates", "search", "conditions", "inputs", "warnings"} {
		next := strings.Index(text, "\n  \""+key+"\":")
		assert.Greater(t, next, at, key)
		at = next
	}
}

// Reverse is -1 in every list of gears.
func TestReverseInJSON(t *testing.T) {
	r, err := BuildBarrel(fixtureBox(5, "Heron (invented)"), nil)
	require.NoError(t, err)
	assert.Equal(t, [][][]int{{{gearbox.Reverse, 1}, {2, 4}, {3, 5}}}, r.Layouts)
	assert.Contains(t, renderJSON(t, r), "-1")
	assert.Contains(t, render(t, r, Metric), "R-1")
}
