"""Replays schedules of shifts on sim/MODEL.md and the input files alone.

Standard library only (Python 3.11 or later). Nothing here was taken from the Go
code; numbers in brackets are the equations of sim/MODEL.md. SI throughout.
car.py holds the forces, road.py the line and the limit, this file the drive.

    python3 lap.py ROOT [--step 0.125] [--lap TEXT] [--write]

ROOT is the root of the repository. schedules.json, beside this file, says for
each lap at which place which gear follows which; where the car is, how fast,
where it meets the limit and where it leaves it again is computed here. --lap
keeps the laps whose name contains the text. --write drives all of them at the
step and at twice the step and writes laps.json.
"""
import argparse
import hashlib
import json
import math
import os

from car import Car
from road import Limit, Track, rk4

HERE = os.path.dirname(os.path.abspath(__file__))
DOWN, ON, UP = 0, 1, 2  # in this order where places coincide


class Replay:
    def __init__(self, car, tr, lim, told):
        self.car, self.tr, self.lim, self.told = car, tr, lim, told
        self.plan = sorted(
            [(s["place_m"], UP if s["to_gear"] > s["from_gear"] else DOWN, n, s) for n, s in enumerate(told["shifts"])] +
            [(o["place_m"], ON, n, o) for n, o in enumerate(told["throttle_ons"])], key=lambda e: e[:3])

    def begin(self, i, u, gear):
        self.i, self.x, self.u, self.t, self.gear = i, 0.0, u, 0.0, gear
        self.rest = 0.0      # s without drive that are left
        self.on = False      # on the limit
        self.braked = []     # time and v² since the limit was met, to check (8.6)
        self.from_gear = gear
        self.note()

    def note(self):
        """Clears what is told of a passage."""
        self.shift_v, self.on_v = {}, {}
        self.top, self.disorder, self.left, self.met = self.u, [], [], []

    def place(self):
        return self.tr.s[self.i % self.tr.n] + self.x

    def step(self, x, u, h):
        car, tr, i, g = self.car, self.tr, self.i, self.gear
        if self.rest > 0:
            return rk4(lambda y, w: car.coast(w, tr.place(i, y)), u, x, h)  # (9.1)
        top = car.vlim[g] ** 2
        if u >= top * (1 - 1e-12):  # (7.7)
            if u > top * (1 + 1e-9):
                return rk4(lambda y, w: car.coast(w, tr.place(i, y)), u, x, h)
            if min(car.accel(top, tr.place(i, x), g), car.accel(top, tr.place(i, x + h), g)) >= 0:
                return top, h / math.sqrt(top)
        return rk4(lambda y, w: car.accel(w, tr.place(i, y), g), u, x, h)

    def act(self, kind, n, e):
        """What the schedule says at this place."""
        v = math.sqrt(self.u)
        car = self.car
        where = f"{self.place():.2f} m"
        if kind == ON:
            self.on_v[n] = v
            if self.gear != e["gear"] - 1:
                self.disorder.append(f"throttle-on at {where}: in gear {self.gear + 1}, told {e['gear']}")
            self.gear = e["gear"] - 1
            self.comes_down(where)
            if car.rpm(self.gear, v) < car.pulling * (1 - 1e-4):
                self.disorder.append(f"throttle-on at {where}: {car.rpm(self.gear, v):.1f} rpm, below the pulling rpm")
            return
        self.shift_v[n] = v
        a, b = e["from_gear"] - 1, e["to_gear"] - 1
        if self.gear != a:
            self.disorder.append(f"shift at {where}: in gear {self.gear + 1}, told {a + 1}")
        if self.rest > 0:
            self.disorder.append(f"shift at {where}: {self.rest:.4f} s of the one before are left")
        if kind == DOWN and car.rpm(b, v) > car.over * (1 + 1e-4):
            self.disorder.append(f"shift at {where}: {car.rpm(b, v):.1f} rpm in gear {b + 1}, above the over-rev limit")
        if not (kind == DOWN and e.get("braking")):
            self.rest = car.tau[min(a, b)]
            if kind == UP and any(p + 1e-3 < self.place() < q - 1e-3 for p, q in self.tr.no_shift):
                self.disorder.append(f"shift at {where}: in a no-shift place")
        self.gear = b

    def comes_down(self, where):
        """Whether the downshifts of (8.6) had their time, to a cell."""
        if not self.braked:
            return
        ready = self.braked[0][0]
        for g in range(self.from_gear - 1, self.gear - 1, -1):
            slow = [t for t, u in self.braked if u <= self.car.vover[g] ** 2 * (1 + 1e-9)]
            ready = max(ready, slow[0] if slow else math.inf) + self.car.down
        if ready > self.t + self.tr.step / math.sqrt(self.u):
            self.disorder.append(f"throttle-on at {where}: {ready - self.t:.4f} s are missing to come down from gear {self.from_gear + 1} to {self.gear + 1}")

    def go(self, h):
        """Drives on by at most h inside the cell, to the first event."""
        lim, i, x, u = self.lim, self.i, self.x, self.u
        u1, dt = self.step(x, u, h)
        most = lim.at(i, x + h)
        if self.on:
            if u1 >= most * (1 - 1e-10):  # follows the limit
                dt = lim.time(i, x + h) - lim.time(i, x)
                if 0 < self.rest < dt:  # a pause that ends here; the limit is straight in u
                    h *= self.rest / dt
                    most, dt = lim.at(i, x + h), self.rest
                self.move(h, most, dt)
                return
            self.on = False
            if self.rest == 0:
                self.left.append((self.place(), self.gear + 1, math.sqrt(u)))
        top = self.car.vlim[self.gear] ** 2
        rising = self.rest == 0 and u < top * (1 - 1e-12)

        def event(w, t, d):
            if self.rest > 0 and t >= self.rest:
                return "pause"
            if w > lim.at(i, x + d) * (1 + 1e-11):
                return "limit"
            if rising and w > top:
                return "limiter"
        why = event(u1, dt, h)
        if why:
            lo, hi = 0.0, h
            for _ in range(50):
                mid = 0.5 * (lo + hi)
                w = event(*self.step(x, u, mid), mid)
                if w:
                    hi, why = mid, w
                else:
                    lo = mid
            h = hi
            u1, dt = self.step(x, u, h)
        if why == "limit":
            u1, self.on = lim.at(i, x + h), True
            self.braked, self.from_gear = [(self.t + dt + max(self.rest - dt, 0), u1)], self.gear
            self.met.append((self.place() + h, self.gear + 1, math.sqrt(u1)))
        if why == "limiter":
            u1 = top
        self.move(h, u1, dt, why == "pause")

    def move(self, h, u1, dt, over=False):
        self.rest = 0.0 if over or self.rest - dt < 1e-12 else self.rest - dt
        self.x, self.u, self.t = self.x + h, u1, self.t + dt
        self.top = max(self.top, u1)
        if self.on:
            self.braked.append((self.t, u1))

    def passage(self):
        """Drives from where it stands to the start line; the time it took."""
        tr = self.tr
        t0 = self.t
        here = self.place()
        todo = [e for e in self.plan if e[0] >= here - 1e-6]
        self.note()
        k = 0
        while self.i < tr.n:
            d = tr.ds[self.i] - self.x
            while k < len(todo) and todo[k][0] <= self.place() + 1e-9:
                self.act(*todo[k][1:])
                k += 1
            if d < 1e-9:
                self.i, self.x = self.i + 1, 0.0
                continue
            if k < len(todo):
                d = min(d, todo[k][0] - self.place())
            self.go(d)
        for e in todo[k:]:
            self.act(*e[1:])
        self.i = 0
        return self.t - t0

    def lap(self):
        if self.told["kind"] == "out":  # (10.2)
            self.begin(self.tr.pit_cell, self.tr.pit_v ** 2, self.told["start_gear"] - 1)
            return self.passage()
        # (10.1): round and round until the lap repeats itself.
        self.begin(0, min(self.lim.u[0], 50.0 ** 2), self.told["start_gear"] - 1)
        for _ in range(40):
            u, gear = self.u, self.gear
            t = self.passage()
            if abs(self.u - u) < 1e-11 * u and gear == self.gear:
                return t
        self.disorder.append("the lap does not repeat itself")
        return t


class Bench:
    def __init__(self, root):
        self.root, self.limits = root, {}

    def drive(self, told, step):
        car = Car(self.root, told["air_density_kgm3"], told["fuel_kg"], told["grip_ratio"], told.get("total_ratio"))
        key = tuple(told[k] for k in ("track_file", "air_density_kgm3", "fuel_kg", "grip_ratio", "wind_speed_mps", "wind_from_deg")) + (step,)
        if key not in self.limits:  # it does not depend on the set
            tr = Track(self.root, told["track_file"], step, told["wind_speed_mps"], math.radians(told["wind_from_deg"]))
            self.limits[key] = tr, Limit(car, tr)
        tr, lim = self.limits[key]
        r = Replay(car, tr, lim, told)
        t = r.lap()
        return t, r


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("root")
    ap.add_argument("--step", type=float, default=0.125)
    ap.add_argument("--lap", default="")
    ap.add_argument("--write", action="store_true")
    a = ap.parse_args()
    with open(os.path.join(HERE, "schedules.json"), "rb") as f:
        data = f.read()
    bench, laps = Bench(a.root), []
    for told in json.loads(data)["laps"]:
        if a.lap not in told["name"]:
            continue
        t, r = bench.drive(told, a.step)
        coarse = bench.drive(told, 2 * a.step)[0] if a.write else math.nan
        print(f"{told['name']}: {t:.6f} s, at twice the step {coarse:.6f} s, top speed {math.sqrt(r.top):.5f} m/s", *r.disorder, sep="\n   ", flush=True)
        laps.append(dict(
            name=told["name"], length_m=round(r.tr.length, 5), time_s=round(t, 6), time_at_twice_the_step_s=round(coarse, 6),
            top_speed_mps=round(math.sqrt(r.top), 5),
            shift_speeds_mps=[round(r.shift_v[n], 5) for n in range(len(told["shifts"]))],
            throttle_on_speeds_mps=[round(r.on_v[n], 5) for n in range(len(told["throttle_ons"]))],
            limit_left_m=[round(x[0], 3) for x in r.left], limit_met_m=[round(x[0], 3) for x in r.met],
            disorder=r.disorder))
    if a.write:
        with open(os.path.join(HERE, "laps.json"), "w") as f:
            json.dump(dict(
                what="schedules.json replayed by lap.py, a program apart from this one; see README.md",
                schedules_sha256=hashlib.sha256(data).hexdigest(), step_m=a.step, laps=laps), f, indent=1)
            f.write("\n")


if __name__ == "__main__":
    main()
