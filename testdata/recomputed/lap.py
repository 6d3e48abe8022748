"""Recomputes laps from sim/MODEL.md and the input files alone.

Standard library only (Python 3.11 or later). Nothing here was taken from the Go
code; numbers in brackets are the equations of sim/MODEL.md. SI throughout.
car.py holds the forces, road.py the line and the limit, this file the drive.

    python3 lap.py ROOT [--step 0.25] [--circuit NAME] [--notes | --json]

ROOT is the root of the repository. --notes lists, for each throttle-on, every
way to the next braking phase that was tried: first gear tried, last gear,
place of its end, loss in s against the best, time held on.
"""
import argparse
import json
import math
import sys

from car import Car
from road import Limit, Track, rk4

HOLD_S = 1.0


class Sim:
    def __init__(self, car, tr):
        self.car, self.tr = car, tr
        self.lim = Limit(car, tr)
        self.notes = []

    def step(self, i, x, u, g, coasting, h):
        car, tr = self.car, self.tr
        if coasting:
            return rk4(lambda y, w: car.coast(w, tr.place(i, y)), u, x, h)
        top = car.vlim[g] ** 2
        if u >= top * (1 - 1e-12):
            if u > top * (1 + 1e-9):
                return rk4(lambda y, w: car.coast(w, tr.place(i, y)), u, x, h)
            if min(car.accel(top, tr.place(i, x), g), car.accel(top, tr.place(i, x + h), g)) >= 0:
                return top, h / math.sqrt(top)
        return rk4(lambda y, w: car.accel(w, tr.place(i, y), g), u, x, h)

    def advance(self, i, x, u, g, coasting, stop_u, stop_t, end):
        """Runs to the first of: limit met, speed stop_u reached (rising), time
        stop_t elapsed, cell end reached. Yields (why, i, x, u, t, log)."""
        tr, lim = self.tr, self.lim
        t, log = 0.0, []
        eps = 1e-9
        while True:
            if i >= end:
                return "end", i, x, u, t, log
            h = tr.ds[i % tr.n] - x
            if h < 1e-9:
                i, x = i + 1, 0.0
                continue
            u1, dt = self.step(i, x, u, g, coasting, h)

            def events(w, tt, hh):
                if w > lim.at(i, x + hh) * (1 + eps):
                    return "limit"
                if stop_u is not None and w >= stop_u:
                    return "speed"
                if tt >= stop_t:
                    return "time"
                if stop_u is None and not coasting and u < self.car.vlim[g] ** 2 * (1 - 1e-12) and w > self.car.vlim[g] ** 2:
                    return "limiter"
                return None
            why = events(u1, t + dt, h)
            if why is None:
                log.append((i, x, u, t, g))
                i, x, u, t = i + 1, 0.0, u1, t + dt
                continue
            lo, hi = 0.0, h
            for _ in range(45):
                mid = 0.5 * (lo + hi)
                um, tm = self.step(i, x, u, g, coasting, mid)
                w = events(um, t + tm, mid)
                if w:
                    hi, why = mid, w
                else:
                    lo = mid
            u1, dt = self.step(i, x, u, g, coasting, hi)
            log.append((i, x, u, t, g))
            x, t = x + hi, t + dt
            if why == "limiter":
                u = self.car.vlim[g] ** 2
                continue
            if why == "speed":
                u1 = stop_u
            if why == "limit":
                u1 = lim.at(i, x)
            return why, i, x, u1, t, log

    def ends(self, i, x, u, t, g, end, log, ups):
        """All ends of a stretch of full throttle (8.4)."""
        car, tr = self.car, self.tr
        while True:
            stop = car.vshift[g] ** 2 if g < car.n - 1 else None
            if stop is not None and u >= stop * (1 - 1e-12):
                why, j, y, w, dt, lg = "speed", i, x, u, 0.0, []
            else:
                why, j, y, w, dt, lg = self.advance(i, x, u, g, False, stop, math.inf, end)
            log = log + [(a, b, c, t + d, e) for a, b, c, d, e in lg]
            i, x, u, t = j, y, w, t + dt
            if why != "speed":
                yield dict(why=why, i=i, x=x, u=u, t=t, g=g, log=log, ups=ups)
                return
            # the alternative: hold
            why, j, y, w, dt, lg = self.advance(i, x, u, g, False, None, HOLD_S, end)
            if why == "limit" or why == "end":
                yield dict(why=why, i=j, x=y, u=w, t=t + dt, g=g,
                           log=log + [(a, b, c, t + d, e) for a, b, c, d, e in lg], ups=ups, held=dt)
            # in a no-shift place: on to its end
            cell = i if x < tr.ds[i % tr.n] - 1e-9 else i + 1
            if tr.noshift[cell % tr.n]:
                last = cell
                while tr.noshift[last % tr.n]:
                    last += 1
                why, j, y, w, dt, lg = self.advance(i, x, u, g, False, None, math.inf, min(last, end))
                log = log + [(a, b, c, t + d, e) for a, b, c, d, e in lg]
                i, x, u, t = j, y, w, t + dt
                if why == "limit" or i >= end:
                    yield dict(why=why, i=i, x=x, u=u, t=t, g=g, log=log, ups=ups)
                    return
            ups = ups + [(g + 1, g + 2, i, x, math.sqrt(u), t, car.rpm(g, math.sqrt(u)))]
            why, j, y, w, dt, lg = self.advance(i, x, u, g, True, None, car.tau[g], end)
            log = log + [(a, b, c, t + d, e) for a, b, c, d, e in lg]
            i, x, u, t = j, y, w, t + dt
            if why != "time":
                yield dict(why=why, i=i, x=x, u=u, t=t, g=g, log=log, ups=ups)
                return
            g += 1

    def natural(self, v):
        for g in range(self.car.n):
            if self.car.vshift[g] > v:
                return g
        return self.car.n - 1

    def follow(self, i, x, end, g_engaged):
        """Along the limit from (i, x) to throttle-on: its node."""
        tr, lim = self.tr, self.lim
        if x > 0:
            i += 1
        while i < end:
            u = lim.u[i % tr.n]
            g = self.natural(math.sqrt(u))
            if g_engaged is not None:
                g = min(g, g_engaged)
            un, _ = self.step(i, 0.0, u, g, False, tr.ds[i % tr.n])
            nxt = lim.u[(i + 1) % tr.n]
            if un < nxt - 1e-7 * nxt:
                return i
            i += 1
        return i

    def lowest(self, i, x, on, g):
        """Lowest gear that downshifts can reach by throttle-on (8.6)."""
        car, tr, lim = self.car, self.tr, self.lim
        now = lim.time(i, x)
        j, y = i, x
        while g > 0:
            while j < on and lim.at(j, y) > car.vover[g - 1] ** 2:
                j, y = j + 1, 0.0
            begin = max(now, lim.time(j, y))
            if begin + car.down > lim.time(on, 0.0) + 1e-9:
                break
            now = begin + car.down
            while j < on and lim.time(j + 1, 0.0) <= now:
                j, y = j + 1, 0.0
            g -= 1
        return g

    def stretch(self, i, x, u, t, gears, end):
        """The best end over the gears tried (8.3), (8.4)."""
        lim = self.lim
        found = []
        for g in gears:
            for e in self.ends(i, x, u, t, g, end, [], []):
                e["lag"] = e["t"] - lim.time(e["i"], e["x"])
                e["first"] = g
                found.append(e)
        best = min(found, key=lambda e: (round(e["lag"], 9), len(e["ups"])))
        if len(found) > 1:
            spread = [(e["first"] + 1, e["g"] + 1, round(self.tr.length * (e["i"] // self.tr.n) + self.tr.s[e["i"] % self.tr.n] + e["x"], 2),
                       e["why"], round(e["lag"] - best["lag"], 5), round(e.get("held", 0), 3)) for e in found]
            self.notes.append((round(self.tr.s[i % self.tr.n], 1), spread))
        return best

    def drive(self, i, x, u, t, on_limit, g_before, end, first_gears=None, enough=None):
        """From a state to cell index end, or to the end of the stretch that
        passes enough. Returns time, end state, log, upshifts."""
        car, tr, lim = self.car, self.tr, self.lim
        log, ups = [], []
        while i < end:
            if on_limit:
                on = self.follow(i, x, end, g_before)
                t0 = lim.time(i, x)
                for j in range(i + (1 if x > 0 else 0), on + 1):
                    log.append((j, 0.0, lim.u[j % tr.n], t + lim.time(j, 0.0) - t0, -1))
                t += lim.time(on, 0.0) - t0
                v = math.sqrt(lim.u[on % tr.n])
                if on >= end:
                    i, x, u = on, 0.0, lim.u[on % tr.n]
                    break
                nat = self.natural(v)
                low = self.lowest(i, x, on, g_before) if g_before is not None else 0
                if g_before is not None and nat > g_before:
                    self.notes.append(("natural above engaged", tr.s[on % tr.n], nat + 1, g_before + 1))
                ok = [g for g in (nat, nat + 1) if low <= g < car.n and (g_before is None or g <= g_before)
                      and (car.rpm(g, v) >= car.pulling or g == 0)]
                if not ok:
                    self.notes.append(("no usable gear", tr.s[on % tr.n], v, nat + 1, low + 1, g_before))
                    ok = [max(low, min(nat, g_before))]
                i, x, u = on, 0.0, v * v
                gears = ok
            else:
                gears = first_gears
            e = self.stretch(i, x, u, t, gears, end)
            log += e["log"] + [(e["i"], e["x"], e["u"], e["t"], e["g"])]
            ups += e["ups"]
            i, x, u, t, g_before = e["i"], e["x"], e["u"], e["t"], e["g"]
            on_limit = e["why"] == "limit"
            if not on_limit or enough is not None and i >= enough:
                break
        log.append((i, x, u, t, g_before if g_before is not None else -1))
        return t, i, x, u, g_before, on_limit, log, ups

    def flying(self):
        tr, lim, car = self.tr, self.lim, self.car
        n = tr.n
        if not lim.free:
            st = lim.least
            r = self.drive(st, 0.0, lim.u[st], 0.0, True, None, st + n)
            self.notes.clear()
            if r[5]:
                # A second passage, entered with the gear engaged when the limit
                # was last met: begun early enough to hold the approach.
                r = self.two_laps(st)
                return r
        best = None
        for part in (0.8, 1.0):
            u = (part * car.vshift[-1]) ** 2
            g = car.n - 1
            for _ in range(60):
                t, i, x, u1, g1, on, log, ups = self.drive(0, 0.0, u, 0.0, False, None, n, [g])
                done = abs(u1 - u) < 1e-10 * u and g1 == g
                u, g = u1, g1
                if done:
                    break
            if best is None or t < best[0]:
                best = (t, log, ups)
        return best

    def two_laps(self, st):
        n = self.tr.n
        t, i, x, u, g, on, log, ups = self.drive(st, 0.0, self.lim.u[st], 0.0, True, None, st + 2 * n)
        self.notes = self.notes[len(self.notes) // 2:]
        # time of passing st + n in the middle of the log (on the limit there)
        mid = [e for e in log if e[0] == st + n and e[1] == 0.0]
        t0 = mid[0][3]
        return t - t0, [(e[0] - n, e[1], e[2], e[3] - t0, e[4]) for e in log if e[0] >= st + n], \
            [e[:2] + (e[2] - n,) + e[3:5] + (e[5] - t0,) + e[6:] for e in ups if e[2] >= st + n]

    def out(self):
        """(10.2). The last stretch is chosen as it is driven: on beyond the
        line to the next braking phase (8.3); the time is read at the line."""
        tr, car = self.tr, self.car
        v = tr.pit_v
        nat = self.natural(v)
        gears = [g for g in (nat, nat + 1) if g == 0 or car.rpm(g, v) >= car.pulling]
        n = tr.n
        _, _, _, _, _, _, log, ups = self.drive(tr.pit_cell, 0.0, v * v, 0.0, False, None, 2 * n, gears, n)
        t = [e[3] for e in log if e[0] == n and e[1] == 0.0][0]
        return t, [e for e in log if e[0] < n], [e for e in ups if e[2] < n]


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("root")
    ap.add_argument("--step", type=float, default=0.25)
    ap.add_argument("--circuit", action="append")
    ap.add_argument("--notes", action="store_true")
    ap.add_argument("--json", action="store_true")
    a = ap.parse_args()
    car = Car(a.root, 1.2, 20.0, 1.0)
    out = {}
    if not a.json:
        print("shift speeds m/s", [round(v, 4) for v in car.vshift])
        print("shift rpm", [round(car.rpm(g, v), 1) for g, v in enumerate(car.vshift)])
    for name in a.circuit or ["saltmere", "harrowdale", "quayside"]:
        tr = Track(a.root, name, a.step)
        sim = Sim(car, tr)
        t, log, ups = sim.flying()
        notes = sim.notes
        sim.notes = []
        to, olog, oups = sim.out()
        top = max(e[2] for e in log) ** 0.5
        place = lambda e: round((tr.s[e[2] % tr.n] + e[3]) % tr.length, 2)
        out[name] = dict(lap_s=round(t, 5), top_speed_mps=round(top, 4), out_s=round(to, 5), length_m=round(tr.length, 4),
                         upshifts=[dict(gear=e[0], place_m=place(e), speed_mps=round(e[4], 4), rpm=round(e[6], 1)) for e in ups],
                         out_upshifts=[dict(gear=e[0], place_m=place(e), speed_mps=round(e[4], 4)) for e in oups])
        if not a.json:
            print(f"{name}: length {tr.length:.4f} flying {t:.5f} s top {top:.4f} m/s ({top*3.6:.2f} km/h) out {to:.5f} s")
            print("   ups", [(e[0], place(e), round(e[4], 3)) for e in ups])
            print("   out ups", [(e[0], place(e), round(e[4], 3)) for e in oups])
            if a.notes:
                for n in notes:
                    print("   ", n)
                print("   out:")
                for n in sim.notes:
                    print("   ", n)
    if a.json:
        json.dump(out, sys.stdout, indent=2)


if __name__ == "__main__":
    main()
