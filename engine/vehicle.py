"""What the chassis model must know of a car besides its settings. Every value is SI; a sheet gives it
with the unit in the key."""

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, model_validator

Five = tuple[float, float, float, float, float]
Four = tuple[float, float, float, float]


def _of(kind: str, low: float, high: float) -> Any:
    """Field of a kind of unit, with its allowed range in SI."""
    return Field(ge=low, le=high, json_schema_extra={"kind": kind})


Length = Annotated[float, _of("length", -20, 20)]
Span = Annotated[float, _of("length", 0.05, 20)]
Mass = Annotated[float, _of("mass", 1, 5000)]
Rate = Annotated[float, _of("rate", 1e4, 1e7)]
Ratio = Annotated[float, Field(ge=-100, le=1000)]


class Physics(BaseModel):
    """Perimeter-frame car with independent front and solid rear axle. Fives are per phase, fours are LF
    RF LR RR."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    # masses and lengths
    mass: Annotated[float, _of("mass", 300, 5000)]  # with driver and the sheet's base fuel
    wheelbase: Span
    track_front: Span
    track_rear: Span
    spring_base_rear: Span
    cg_height: Span
    unsprung_front: Mass  # both wheels
    unsprung_rear: Mass
    unsprung_height: Length
    yaw_inertia: Annotated[float, _of("inertia", 100, 20000)]
    # suspension
    motion_ratio_front: Ratio  # spring travel / wheel travel
    motion_ratio_rear: Ratio
    bar_length_front: Span
    bar_arm_front: Span
    bar_ratio_front: Ratio  # arm end travel / wheel travel
    bar_length_rear: Span
    bar_arm_rear: Span
    bar_ratio_rear: Ratio
    roll_centre_front: Length
    anti_dive: Ratio  # share of the front's braking transfer that links carry
    anti_lift: Ratio  # the same, rear under braking
    anti_squat: Ratio  # rear under power
    track_bar_left_share: Five  # weight of the left end in the roll centre height, per phase
    damper_rate: Annotated[float, _of("damping", 0, 1e6)]  # per click
    pitch_speed: Annotated[Five, Field(json_schema_extra={"kind": "speed"})]  # at the wheels, + = nose down
    roll_speed: Annotated[
        Five, Field(json_schema_extra={"kind": "speed"})
    ]  # at the wheels, + = rolling right
    yaw_lead: Five  # yaw acceleration over yaw rate, 1/s, + = turning in more
    # tyres
    grip: Annotated[float, Field(gt=0, le=3)]  # peak force / load on a light load
    grip_rear: Annotated[float, Field(gt=0.5, le=2)]  # rear tyres' grip over the front's
    load_limit: Annotated[float, _of("force", 1000, 200000)]  # load of the highest peak force
    load_reference: Annotated[float, _of("force", 100, 50000)]
    tyre_rate: Rate
    tyre_rate_growth: Ratio  # relative growth of the rate per bar of pressure
    tyre_radius: Span
    stagger_pressure: Ratio  # rollout gained per Pa, m
    stagger_growth: Length  # what heat adds to the stagger from the first lap of a run to the last
    slip_peak: Annotated[float, _of("angle", 0.02, 0.4)]  # slip angle of the best side force
    slip_stiffness: Ratio  # drive force per unit slip and unit load near the grip limit
    pressure_best: Annotated[float, _of("pressure", 3e4, 6e5)]  # hot, at the reference load
    pressure_best_growth: Ratio  # relative growth of the best pressure with relative load
    pressure_loss: Ratio  # grip lost per (relative pressure error)^2
    heat: Annotated[
        Four, Field(json_schema_extra={"kind": "warming"})
    ]  # run temperature rise at the base work
    camber_best: Annotated[float, _of("angle", -0.5, 0.5)]  # lean into the turn the tyre likes
    camber_loss: Ratio  # grip lost per rad^2 of error
    camber_wear: Ratio  # wear added per rad^2 of lean
    toe_best: Length  # toe-out the front tyres like
    toe_loss: Ratio  # grip lost per m^2 of error
    camber_gain: Ratio  # share of body roll the suspension takes back
    wear_rate: Four  # share of the tyre per 100 km at the reference work, gentle = 1
    wear_grip: Ratio  # grip lost per share worn
    # brakes, engine
    brake_effort: Five  # pedal force over weight
    engine_braking: Five  # over weight, at the base gearing
    brake_hardest: Ratio  # pedal force over weight at the end of the longest straight
    drive: Five  # over weight, at the base gearing
    drive_gearing: Five  # power of the gearing that drive grows with: 1 = torque-limited, 0 = power-limited
    power: Annotated[float, _of("power", 1e4, 1e6)]
    peak_power_rpm: Annotated[float, Field(gt=500, le=20000)]
    # air
    drag_area: Annotated[float, _of("area", 0, 5)]
    lift_area_front: Annotated[float, _of("area", -5, 5)]  # + = downforce
    lift_area_rear: Annotated[float, _of("area", -5, 5)]
    spoiler_down: Ratio  # m2 of rear downforce area per rad
    spoiler_drag: Ratio  # m2 of drag area per rad
    spoiler_arm: Length  # behind the rear axle
    tape_down: Ratio  # m2 of front downforce area at full tape
    tape_drag: Ratio  # m2 of drag area saved at full tape
    rake_down: Ratio  # m2 of front downforce area per m of nose down
    water_rise: Annotated[float, Field(gt=0, le=200)]  # K over the air at no tape, base power and speed
    water_tape: Ratio  # share of the cooling lost at full tape
    # fuel
    fuel_density: Annotated[float, _of("density", 500, 1200)]
    fuel_economy: Annotated[float, _of("economy", 1e4, 1e8)]  # m per m3
    fuel_behind_axle: Length
    fuel_left: Length  # cell's centre to the left of the middle
    trim: Five  # share of grip: what the sheet's builder says of the base set-up and the model cannot know
    fixed: dict[str, float] = Field(default_factory=dict)  # SI value of a setting the car does not list

    @model_validator(mode="after")
    def _sprung(self) -> "Physics":
        if self.unsprung_front + self.unsprung_rear > 0.5 * self.mass:
            raise ValueError("unsprung_front and unsprung_rear together may be half of mass at most")
        return self
