"""Every number of the detectors that is not a rule of watching: meaning, unit, and where it is from.

What a grower may want to set per facility, room or pot is a rule (`fleet.rules`). What stands here describes
instruments, water or statistics, and is the same everywhere. "Chosen here" means judged on simulated rooms by the
evaluation set. Not here: how a number is used.
"""

from __future__ import annotations

from collections.abc import Mapping

# Work and settling ----------------------------------------------------------------------------------------------------

#: How long work lasts, as a multiple of the container's `settled_hours` (two by default): a re-set emitter needs some
#: drip pulses to find its point; water given by hand lasts about a day; a fresh ceramic cup needs up to a day to reach
#: the medium's tension (24 h: Grattan and Oster, University of California Drought Tip 92-38). Otherwise chosen here.
SETTLING_FACTOR: Mapping[str, float] = {
    "re-set-emitter": 6.0,
    "replaced-emitter": 6.0,
    "watered-by-hand": 12.0,
    "replaced-probe": 12.0,
    "refilled-probe": 12.0,
    "moved-probe": 12.0,
    "set-up": 12.0,
    "removed-plant": 12.0,
    "maintenance": 6.0,
    "mended-leak": 6.0,
    "purged": 2.0,
    "cleaned-filter": 2.0,
    "opened-valve": 2.0,
    "refilled": 3.0,
    "pruned": 3.0,
}

#: Minutes by which a can's water may show before the time that somebody told for it. Chosen here: people look at the
#: clock afterwards.
WATERED_BEFORE_MIN = 45

#: Work after which earlier readings say nothing about what is usual.
CHANGES_HISTORY = frozenset(
    {
        "re-set-emitter",
        "replaced-emitter",
        "replaced-probe",
        "refilled-probe",
        "moved-probe",
        "set-up",
        "removed-plant",
    }
)

#: A settled container moves, over its time, by no more than this share of its tolerance. Chosen here.
SETTLED_FLAT = 0.5

#: Fewest fine buckets with readings from which "settled" is told.
SETTLED_NEEDS = 8

# Level sensors --------------------------------------------------------------------------------------------------------

#: Fine buckets from which the level now is estimated: two hours. Chosen here: long enough to average a millimetre of
#: noise away, short enough for a draw that follows the lights.
LEVEL_STEPS = 24

#: A level this far [mm] off the line through the readings before it is doubted until a second reading or time confirms
#: it. Chosen here: no gravity line draws this within one reading, a wave or a lost echo does.
LEVEL_JUMP_MM = 40.0

#: Seconds after which a doubted reading that nothing contradicts is believed. Chosen here: an empty reservoir must be
#: called within five minutes, also where a reading comes every ten.
LEVEL_DOUBT_S = 225.0

#: Rise [mm] between neighbouring buckets that is a refill and not noise. Chosen here.
LEVEL_RISE_MM = 12.0

#: A reservoir stays empty until its level is this far [mm] above the level that counts as empty. Chosen here: beyond
#: the noise and the waves of usual level sensors (from memory: 1-3 mm).
EMPTY_RELEASE_MM = 6.0

#: A single reading at or below empty counts while the line through the last hours will be there within so many hours,
#: at its present fall or at the usual one: of many noisy readings the lowest comes hours early. Chosen here: water in
#: the tubing still feeds then.
EMPTY_NEAR_H = 1.0

#: By so many standard errors less than it looks a level falls at least, when noise may make a fall of rest.
EMPTY_SLOPE_SE = 2.0

#: "Empty" is called early rather than late, by so many hours of the present fall: of readings that come every ten
#: minutes the next, and the sweep after it, is too late. Chosen here.
EMPTY_EARLY_H = 0.2

#: For so many minutes after lights went off the line through the last readings may tell of light: pots go on taking
#: water for an hour or two. It does where levels usually fall by at most this share of it then. Chosen here.
EMPTY_DUSK_MIN = 240
EMPTY_DUSK_SHARE = 0.5

#: Buckets whose median tells the level around lights-off, of sensors of which each holds at least so many readings and
#: of others: what comes from the light before must not be in it for long, and must not be one wave. Chosen here.
EMPTY_OFTEN = 3
EMPTY_DUSK_OFTEN_STEPS = 3
EMPTY_DUSK_STEPS = 12

#: Fine buckets whose median must be this near [mm] for a reservoir to count as empty until it is filled. Chosen here:
#: the median of two hours' readings is known to some tenths of a millimetre.
EMPTY_LOW_STEPS = 24
EMPTY_REST_MM = 0.3

# Draw and forecasts ---------------------------------------------------------------------------------------------------

#: Days over which the draw is fitted. Chosen here: plants and weather of the last days, several refills at most.
DRAW_DAYS = 5

#: Days before the last one whose draw at the same hour is usual: plants grow by some per cent a day, and photoperiods
#: change, so that weeks ago says little (chosen here); all days where these do not suffice.
USUAL_DRAW_DAYS = 6

#: Share of the usual draw that goes with the air's vapour pressure deficit, and how much drier air than usual counts at
#: most. Chosen here: leaves in light answer to both light and deficit (`agronomy.demand`).
DEFICIT_SHARE = 0.6
DRIER_AIR_MOST = 2.5

#: Where more than this share of a reservoir's containers have not come near their set point, half of the way to it from
#: their wet limit, only the others draw. Chosen here: somebody walked round; of fewer the others take what they leave.
WET_MOST = 0.5

#: How much the others draw then is known to this share of it, or of what the wet ones draw where that is less. Chosen
#: here: how fast tension rises in each of a few pots tells roughly what it drinks, and a wet one may be watered by an
#: emitter that was set wetter.
WET_SPREAD = 0.35

#: Slowest that containers near their set point dry [mbar/h] where shares of draw go by it. Chosen here: noise alone.
LEAST_SPEED_MBAR_PER_H = 0.05

#: Above this share of a reservoir's containers in drought, what it gives tells nothing of what is usual. Chosen here.
STARVED_MOST = 0.25

#: Below this tension [mbar] a cup stands in water, or has lost its own. Chosen here.
WET_TELLS_MBAR = 10.0

#: Wet hours of the last days after which nothing is said to be usual. Chosen here: a third of them.
WET_HOURS_MOST = 56

#: Hours for which drier air than usual is told.
WEATHER_HOURS = 72

#: How fast containers dry is told over so many hours, if so many rises from hour to hour tell (of one hour of the day,
#: so many in a week), each of at most so much; from this share of usual on they dry slowly, and never by less than this
#: is believed. Chosen here: by hour and container a rise is a few mbar, its noise a third; what is more leapt.
UPTAKE_HOURS = 6
UPTAKE_NEEDS = 10
UPTAKE_HOUR_NEEDS = 4
UPTAKE_RISE_MBAR = 25.0
UPTAKE_SLOW = 0.8
UPTAKE_LEAST = 0.3

#: Lights that burn at unusual hours are told by warmth: at least so many degrees between lit and dark hours. Common
#: practice: rooms are kept some degrees cooler by night. Pots are watered for what was drunk then up to so many hours
#: later (chosen here: half a usual swing), and how much that is, is known to this share of it.
LIGHT_WARMS_DEGC = 2.0
LIGHT_AFTER_H = 2
LIGHT_SPREAD = 0.3

#: Half days in which less than this share of the usual left do not tell what is usual, if at least this share of a mean
#: half day is usual then. Chosen here: neither weather nor pruning halves what plants drink, a closed valve does.
HALF_DAY_H = 12
CUT_OFF_SHARE = 0.5
CUT_OFF_TELLS = 0.3

#: Growth counted in usual draw at most [1/day, of its logarithm]: young plants in their fastest days (from memory).
GROWTH_MOST = 0.2

#: Plants were cut back where all of the last days, two at least, are less than this share of all the days before; what
#: is less than the second share of it is no pruning, nor is it one where containers do not dry at less than the third
#: share of their speed before, or where in more than so many hours of the day, as a share of them, less than this share
#: left: somebody poured, or lights burned for fewer hours. Chosen here: growers take up to half of the leaves, and the
#: weather takes less.
PRUNED_SHARE = 0.8
PRUNED_LEAST = 0.35
PRUNED_SLOWER = 0.88
PRUNED_STOPPED = 0.1
PRUNED_STOPS = 0.2

#: Hours within which a rise counts as one refill: a hose fills a tank within the hour, which is two hourly means.
RISE_HOURS = 3

#: Fine buckets within which a rise counts as one refill.
REFILL_STEPS = 6

#: A reservoir is low if it runs empty within the rule's hours at so many times the present draw. Chosen here: that draw
#: is of days ago in the middle, plants have grown by some per cent since, and what would have lasted into the night
#: ends before it, half a day sooner.
LOW_MORE = 1.12

#: By at most so many times what fell in the last day it must be low, too, but for a leak: what was drawn in the days
#: before, to a leak too, may be over. Chosen here: plants and weather differ by less from day to day.
LOW_DAY_MORE = 1.2

#: A reservoir that was low stays so until it is filled, or holds more than so many times what fell in the last day
#: would take of it in the rule's hours. Chosen here: a draw by day and by night, foretold from noisy hours, is some
#: tenths more or less an hour later, and a call that ends without water and comes again tells nothing new.
LOW_CLEAR = 1.5

#: How generous the guess is that decides which reservoirs are looked at closely.
LOW_GUESS = 1.7
LOW_LATELY_HOURS = 6

#: An interval of time to empty is made so much wider than the fit of the draw alone has it, which knows neither weather
#: nor growth. Of 264 forecasts before 22 run-outs in tuning seeds 2001 and 2002, 72 % lay within the fit's own 80 %
#: interval, 81 % within this.
EMPTY_WIDER = 1.5

#: Hours, twice in a row, in which more than usual must leave for a forecast to count on it. Chosen here.
EXCESS_HOURS = 3.0

#: Where at least this share of a reservoir's containers stood above their dry limits within so many hours, they are
#: catching up. Chosen here: a pot is filled within hours, but in a long drought its probe lost its water a day before.
#: One that has been near its set point for the last so many hours no longer does.
CATCH_UP_HOURS = 48
CATCH_UP_SHARE = 0.25
CATCH_UP_ENDS_H = 6

#: Share of a container's volume that water takes between its dry limit and as wet as its medium stays. From memory:
#: easily available water and the buffer beside it are a quarter to a third of peat, bark and coir.
CATCH_UP_TAKES = 0.3

#: Fine buckets at either end of a stretch whose median volume counts.
ENDS_STEPS = 3

#: An excess is believed beyond this many standard errors, this share of the usual draw, and this many litres an hour.
#: Chosen here.
EXCESS_SIGMAS = 3.0
EXCESS_SHARE = 0.25
EXCESS_LEAST_L_PER_H = 0.3

#: Share of the spread of usual draws that hours of one day have in common. Chosen here: half, as weather is to pulses.
HOURS_ALIKE = 0.5

# What is usual --------------------------------------------------------------------------------------------------------

#: Fewest past days at the same hour from which "usual" is taken. Chosen here: with two, one bad day is half of it.
USUAL_DAYS = 3

# Tension: swings between waterings -----------------------------------------------------------------------------------

#: Reversal [mbar] of hourly tension that is a watering or its end. Chosen here: above noise (tenths of a mbar for small
#: electronic tensiometers, from memory) and under the play of an emitter's membrane (about ten).
TURN_MBAR = 5.0

#: Hours of tension in which swings are looked for. Chosen here: some tens of waterings.
SWING_HOURS = 240

#: Share of a container's finished rises (or falls) that its usual one covers, and how many must have been seen.
SWING_SHARE = 0.75
SWINGS_NEEDED = 4

# Drying ---------------------------------------------------------------------------------------------------------------

#: Fine buckets (of 5 minutes) that make "now".
NOW_STEPS = 3

#: Hours over which a fast drying is followed; before them lies what is usual. Chosen here: one photoperiod.
FAST_HOURS = 24

#: A rise this many times the container's usual one means that its emitter has not opened. Chosen here.
RISE_BEYOND = 1.3

#: Usual rise [mbar] where none is known, or it is smaller. Chosen here: the play of an emitter.
LEAST_RISE_MBAR = 10.0

#: Fast drying ends below this share of the rule's threshold. Chosen here.
FAST_RELEASE = 0.6

#: A container that was watered twice of late from at most so many [mbar] below where it stands dries no faster than its
#: emitter's point moves. Chosen here: what a creeping one adds in a day.
NEARLY_WATERED_MBAR = 15.0
#: Hours that a point takes at least to move as far as is seen, by which such a forecast goes. Chosen here.
POINT_MOVES_H = 48.0

#: A fall this many times the usual one is none of a container's emitter, also where that waters it from a tension that
#: has drifted up: it was a can's, or the first water after a drought. Chosen here (compare `DRIER_NO_CAN`).
DEEP_FALLS = 2.2

#: A slow drift is over where the container stands so many of its usual falls below its usual day: it was watered well.
DRIFT_WET_FALLS = 1.0
#: Or fewer than so many above it, after it was watered deep.
DRIFT_BACK_FALLS = 2.0
#: Hours within which it stood so much higher that only much water can have taken it from there. Chosen here.
DRIFT_FELL_H = 72

#: Fine buckets over which the present rise is measured: two hours, half a usual swing.
RISE_STEPS = 24

#: Hours of a day that must have told for the day to count.
DAY_NEEDS_HOURS = 12

#: Level of the intervals given with slopes and times. Usual for forecasts that people plan by.
INTERVAL = 0.80

#: A container's usual peak is the median of its daily highest hours, but not of these last days. Chosen here.
PEAK_IGNORES_DAYS = 3

#: A container is looked at for drying only this far [mbar] above its usual peak and above its set point: below, its
#: emitter has not had to open, however fast it comes back from being wet. Chosen here.
PEAK_MARGIN_MBAR = 8.0

#: An emitter works some way above its set point: it begins to open beyond its play, and set points are set by hand
#: (common practice: within some mbar). So its usual peak is taken as at least so far [mbar] above the set point.
PEAK_OVER_SET_MBAR = 12.0

#: Days before a slow drift's own that must tell for what they were to count as usual. Chosen here: one or two may have
#: been dry, or wet from a can.
DRIFT_BEFORE_DAYS = 3

#: A slow drift once seen goes on while its slope is at least this share of the rule's and its chance without a trend at
#: most this; whether it was seen is asked again as of these many hours ago. Chosen here.
DRIFT_HOLD_SLOPE = 0.5
DRIFT_HOLD_CHANCE = 0.25
DRIFT_LOOK_BACK_H = (6, 12, 18, 24)

#: A slow rise is no drift where one step tells of it at most so many times worse than the best ramp does, each by the
#: share of quarters of days that it fits best, of so many known hours each; where so many quarters have passed since;
#: and where it has risen slower since than in all of the days. Chosen here: of 66 creeping emitters in simulated rooms
#: half rose at least 1.6 times as fast after their best step as over the week; of 5 probes put into another pot none
#: did 0.9 times.
STEP_AS_GOOD = 1.1
STEP_KEPT = 0.75
STEP_NEEDS_HOURS = 3
STEP_QUARTERS = 6

#: A slow drift's onset is the last day within this [mbar] of the first days' level. Chosen here.
ONSET_MBAR = 3.0

#: What comes of "gap to the dry limit / (height above usual / hours since it left usual)": tenth, fiftieth and
#: ninetieth percentile of true hours over that, each container alike, in the simulated rooms of tuning seed 2002 (11
#: containers in a slow drift, 21 in a fast one). Drying media steepen, so slow drifts come sooner; emitters that open
#: late do not go on as fast as they began.
DRY_LIMIT_SLOW = (0.25, 0.7, 1.3)
DRY_LIMIT_FAST = (0.33, 1.7, 4.3)
#: Least height [mbar] above usual by which a forecast goes.
DRY_LEAST_ABOVE_MBAR = 1.0

#: The dry limit counts as passed after this many whole hours above it, and until this far [mbar] below it.
ABOVE_HOURS = 2
DRY_RELEASE_MBAR = 8.0

#: A slow drift is also called, with the dry limit still far, once it has risen by this many times `fast_drying_mbar`:
#: an emitter that far off its point wants re-setting. Chosen here: day by day a smaller rise is as sure as the whole
#: one is within hours. Of 274 more drifts seen, or seen sooner, on tuning seeds all but one were of emitters or probes
#: that drift, clogged ones or uneven rooms.
RISEN_FACTOR = 0.75

# Believing an instrument ----------------------------------------------------------------------------------------------

#: What a tensiometer in a container can show [mbar]: a little under zero in standing water, up to where water columns
#: break (870 cm of water: Stannard 1992; about 85 kPa: Vaz et al. 2013). Lower bound: centimetres of standing water.
TENSION_LOW_MBAR = -15.0
TENSION_HIGH_MBAR = 900.0

#: Fine buckets over which a leap is looked for, and how far [mbar] it goes at least. Chosen here: a cup out of its pot
#: for minutes leaves some mbar after half an hour.
LEAP_STEPS = 6
LEAP_MBAR = 20.0

#: A rise this many times the container's own steepest usual one is no drying. Chosen here.
LEAP_ROOM = 4.0

#: Steepest usual rise [mbar/h] where a container shows less. Chosen here.
LEAST_STEEP_MBAR_PER_H = 4.0

#: Power of tension with which the rise of a drying medium grows: for van Genuchten curves dh/dtheta grows with h^n, and
#: n is 1.3 to 1.6 for potting media (`agronomy.media`).
STEEPENS = 1.5

#: Share of the leap that must still stand for it to count: a cup out of its pot for minutes comes back, within so many
#: fine buckets (four hours); and so many, a day, tell nothing of how fast it dries. Chosen here.
LEAP_STAYS = 0.5
LEAP_YOUNG_STEPS = 48
LEAP_DAY_STEPS = 288

#: Last hours that do not count as usual, since the leap may lie in them.
LEAP_IGNORES_HOURS = 48

#: A tensiometer that reached this [mbar] is near where air enters it: its columns break at 700 to 850 hPa (Vaz et al.
#: 2013, Stannard 1992); containers with working plants do not come here. Looked for over these hours.
AIR_ENTRY_MBAR = 550.0
AIR_HOURS = 96

#: A leap to zero: from above the first [mbar] to under the second, by this share, within a bucket or two.
LEAP_FROM_MBAR = 30.0
ZERO_MBAR = 3.0
LEAP_TO_ZERO_SHARE = 0.9

#: From zero to above the first of these within so many buckets a probe comes only once it was filled again. Chosen
#: here: that is by more than a medium dries in half a day, within two readings of the slowest instrument.
FILLED_STEPS = 3

#: A probe that lost its water shows less than this [mbar], and less than this share of what it usually shows.
WET_AGAIN_MBAR = 60.0
WET_AGAIN_SHARE = 0.5

# Wetting --------------------------------------------------------------------------------------------------------------

#: What tension may fall [mbar] in a fine bucket without counting, so that noise and slow creep do not add up. Below the
#: wet limit it is less, by the same law as water (`WATER_POWER`).
FALL_SLACK_MBAR = 0.75

#: Usual fall [mbar] where none is known or it is smaller. Chosen here.
LEAST_FALL_MBAR = 12.0

#: Last hours whose falls do not count as usual: the one that is judged lies in them.
FALL_IGNORES_HOURS = 48

#: A fall this many times the usual one is unusual. Chosen here.
FALL_BEYOND = 1.25

#: Within a day of a leap of its probe, which may stand elsewhere since, where waterings go deeper, a fall is unusual
#: from so many times. Chosen here: an emitter stuck open takes its container that far within minutes more.
FALL_BEYOND_LEAPT = 2.0

#: A fall begins where it is steeper than this share of its steepest.
ONSET_STEEPNESS = 0.2

#: Power of tension that water content goes with where the medium is not known: 1 - n, with n about 1.45 for potting
#: media (`agronomy.media`). Below so many mbar, near 1/alpha of these, that law no longer holds.
WATER_POWER = -0.45
WATER_POWER_FROM_MBAR = 20.0

#: Below this [mbar] a medium is taken as saturated. Chosen here: a few millimetres of water.
WATER_FROM_MBAR = 0.5

#: Water comes steadily while its rate is above this share of its highest; an emitter's does so for longer than this
#: [min], a can's and its spreading do not. Chosen here from the lags of spreading and probe: minutes (common practice).
STEADY_SHARE = 0.6
STEADY_MIN = 30.0

#: Sooner than that, once it came steadily for so many minutes, and as many after the fall began as a can is emptied and
#: mostly spreads in, it is an emitter's if at least this share of what the container gained has left the reservoir, and
#: at most so many times as much, beyond so many standard errors; some minutes later a can's water would have dwindled,
#: and fewer suffice. Chosen here: what is still spreading has left it, too, and how much a container gained is known to
#: some tenths only (hysteresis, the medium's curve). Where others on the reservoir took this share of its gain or more,
#: it waits to be told by its steadiness.
STEADY_LEAST_MIN = 15.0
GAIN_FROM_MIN = 25.0
GAIN_LEFT = 0.6
GAIN_MOST = 3.0
GAIN_SIGMAS = 2.5
GAIN_ALONE = 0.5
GAIN_LATER_MIN = 30.0
GAIN_SIGMAS_LATER = 1.0

#: Sooner still, after so many minutes and beyond so many standard errors, where the newest reading gained at least this
#: share of the most that one did since the fall began: a can's water is less from reading to reading as it spreads, and
#: the one before may have had little by noise. Chosen here: of 49 emitters of seeds 2031, 2032, 2041 and 2042
#: that were called while the newest had as much as the one before, 48 had as much as the most; of 249 waterings by hand
#: one is called that were two.
UNDIMINISHED = 0.85
UNDIMINISHED_FROM_MIN = 20.0
UNDIMINISHED_SIGMAS = 1.5

#: It dwindles where the newest reading gained less than this share of what one of the last few did. Chosen here: of 50
#: emitters of tuning seeds 2021 and 2022 none is told later by it, of 187 cans two are called that were four.
DWINDLES = 0.7
DWINDLES_READINGS = 7

#: Where it gained less than this share, it ends, and no mass balance tells before it came for long. Chosen here: of 80
#: emitters of seeds 2031, 2032, 2041 and 2042 none had so little in the reading in which it was called.
ENDS_SHARE = 0.5

#: It was poured if, by so many standard errors, less than this share of what the container gained left the reservoir.
POURED_SIGMAS = 2.0
POURED_SHARE = 0.5

#: A container at or below this [mbar] holds about what it can. Chosen here: a pot of 30 cm at container capacity has
#: some 15 cm of water at mid-height (Milks, Fonteno and Larson 1989, as in `agronomy.container`).
SODDEN_MBAR = 15.0

#: So many minutes after a fall began an open emitter's water still comes, or has filled its container. Chosen here.
STEADY_ENDS_MIN = 120.0

#: Where no level tells, steady water is an emitter's if it comes for so long [min].
STEADY_BLIND_MIN = 35.0

#: A container is looked at this many minutes before it passes its wet limit, at its present rate of fall.
WETTING_AHEAD_MIN = 20.0

#: Hours from a fall's beginning over which its water is looked for in the reservoir's draw; and the hours of late in
#: which that draw must still go on, at this share of what it was and beyond so many standard errors, for the emitter
#: still to be open.
WETTING_SPAN_H = 3.0
STILL_HOURS = 3.0
STILL_SHARE = 0.35
STILL_SIGMAS = 1.5

#: Hours before a fall in which what left beyond usual is none of the fall's water. Chosen here.
WETTING_BEFORE_H = 2.0

#: So much an hour before a fall counts, too, where days differ so much that no draw is beyond chance.
WETTING_BEFORE_L_PER_H = 3.0

#: Where less than usual left in them, it does so for at most so many hours after the fall: by then others of the room
#: drink again.
QUIET_MOST_H = 12.0

#: An emitter was closed once, in `STILL_HOURS` since, less than `STILL_SHARE` of its first rate left, by so many
#: standard errors; looked for at every so many hours. Chosen here: a hot afternoon is not taken for its opening again.
STOPPED_SIGMAS = 2.0
STOPPED_EVERY_H = 1.0

#: Rise [mbar] from the lowest tension that shows that plants drink and nothing comes.
RECOVERS_MBAR = 5.0

#: Where no level tells, and water came too fast to be told from a can: so many hours after it came a container that
#: would usually have risen by so much [mbar] since then, over so many hours at least, has lost less than this share of
#: the water which that is. Usual is what was before the last hours; a medium that nobody told is taken for this one.
#: Chosen here: near saturation a day's water moves tension by two or three millibars only.
STAYS_AFTER_H, STAYS_LEAST_H = 2.0, 4.0
STAYS_RISE_MBAR, STAYS_SHARE = 25.0, 0.25
STAYS_IGNORES_H, STAYS_MEDIUM = 48, "peat-perlite"

#: Hours a fall that looks like an emitter's is called for where no level tells whether water still comes.
BLIND_HOURS = 30.0

#: Minutes after passing the wet limit in which a container back from drought is no finding: its emitter was fully open,
#: and water spreads slowly.
OVERSHOOT_MIN = 30.0

#: Shortest span [min] over which a draw is compared with what is usual.
SHORTEST_MIN = 30.0

#: Containers that fell together: so near in time [fine buckets], at least so many, and this share of room or line.
FELL_TOGETHER_STEPS = 12
FELL_TOGETHER_LEAST = 3
FELL_TOGETHER_SHARE = 0.25

#: Others fell with a container if they fell beyond usual within so many fine buckets of it, though they are dry again.
#: While at least this share of the room falls with it, noise counted, it is not called sooner than by its steadiness.
#: Chosen here: of an emitter's room three of eleven did by chance.
FELL_WITH_STEPS = 6
FELL_WITH_SHARE = 0.5

# Supply ---------------------------------------------------------------------------------------------------------------

#: Containers that dry together on one line: at least so many, and this share of those that can be judged; where the
#: reservoir's draw does not speak for it, at least so many, and on a line that is not long since so many hours. Chosen
#: here: two of the four on a short line do by chance, and three of five of a morning.
SUPPLY_LEAST = 2
SUPPLY_SHARE = 0.5
SUPPLY_ALONE = 3
SUPPLY_ALONE_H, SUPPLY_LONG = 3, 6

#: At least this share of a line has had no water since its first containers left their usual range. Chosen here: half
#: of it, and five of eleven; fewer than that are called one by one.
SUPPLY_LACK_SHARE = 0.45
#: Hours of light in which one that was not watered had been due, and the share of those that stand high or had water
#: since then that stands high at least. Chosen here.
SUPPLY_LACK_LIT_H = 2
SUPPLY_DUE_SHARE = 1 / 3

#: A container was watered where its tension fell by this share of a usual watering's fall. Chosen here: what drains to
#: the bottom of a pot after its last watering of the day lets tension fall by less.
SUPPLY_WATERED = 0.35

#: One that stands so many of its usual falls below its usual peak is wetter than its waterings leave it. Chosen here.
WET_FALLS = 1.5
#: Hours for which its line's draw is not looked at, beside those looked back over, after most were wet. Chosen here.
SUPPLY_WET_H = 4

#: It goes on while at least this share has not been watered; so few suffice to begin where the draw has stopped, if
#: they are `SUPPLY_ALONE` or far from usual.
SUPPLY_HOLD_SHARE = 0.3

#: This far [mbar] above its usual peak and risen by so many times its usual rise, a container was to be watered.
SUPPLY_MARGIN_MBAR = 5.0
SUPPLY_RISE = 1.1

#: Of those that stand high or had water since, at least this share stands high behind an air lock: it starves half of a
#: line or so, where emitters of a room that move take here one, there one. Chosen here.
SUPPLY_TAIL_SHARE = 0.3

#: Containers so far [mbar] above their usual peak, and risen by so many times their usual rise without a watering, that
#: so many of them on one line are none by chance, unless the reservoir gives theirs, too, by so many standard errors:
#: beyond an air lock it waters the rest. Chosen here.
SUPPLY_FAR_MBAR = 20.0
SUPPLY_FAR_RISE = 1.8
SUPPLY_FAR_LEAST = 2
SUPPLY_FAR_SIGMAS = 2.0

#: A line of which so many known containers still stand high is not over. Chosen here: two of eight.
SUPPLY_STANDS_SHARE = 0.25

#: Hours for which containers may be wet that were poured on while their line was cut off, and hours within which a line
#: that is open again gives them what they lacked. Chosen here.
SUPPLY_POURED_H = 30
SUPPLY_BURST_H = 2.0

#: Last days that don't count as usual here: a line is cut off at once, not over days.
SUPPLY_IGNORES_DAYS = 2

#: Containers of a cut line leave their usual range one after another as each was due for water: within so many hours,
#: or nearly at once where they are at least this share of it. Looked for over so many hours back. Chosen here: those
#: that drift by themselves left it at other times.
SUPPLY_WITHIN_H = 12
SUPPLY_AT_ONCE_H, SUPPLY_AT_ONCE_SHARE = 2, 0.4
SUPPLY_BACK_H = 72

#: So many containers that dry are the last of their line, beyond all that have been watered since. Chosen here: that of
#: all their orders just this one is chance must be no more likely than that, as of three behind seven.
BEYOND_LEAST = 3
BEYOND_CHANCE = 0.01
#: Fewer tell, too, at a chance as of two behind one, if they left their usual range within so many hours of one another
#: and the draw has just stopped (`SUPPLY_STOPS`) by their part, by so many standard errors, while at most this share of
#: the line is wet. Chosen here: in 750 rooms (simulated) no two emitters that failed by themselves did; at three
#: standard errors three times, at six hours once, and once in a room whose emitters had just been re-set, too wet.
BEYOND_TOGETHER_H = 4
BEYOND_TOGETHER_CHANCE = 0.34
BEYOND_TOGETHER_SIGMAS = 4.0
BEYOND_TOGETHER_WET = 0.2

#: A container tells of its line if it stood above its usual peak for at most so many of the hours before it last came
#: to stand there. Chosen here: one whose emitter drifts stands there at each of its waterings.
SUPPLY_STRAY_H = 1
SUPPLY_STRAY_BACK_H = 30

#: Since it came to stand high a container without water has risen by more than this share of what it usually does in
#: such hours; told once it should have risen so far. Chosen here: emitters that creep water theirs all the while.
SUPPLY_SLOW = 0.7
SUPPLY_SLOW_FROM_MBAR = 10.0

#: The draw has stopped, or is less, where it is at most this share of the usual one by so many standard errors, over
#: any of these spans [h] that ended so many hours ago, of which this share lies after a refill. Chosen here.
SUPPLY_STOPS, SUPPLY_STOPS_SIGMAS = 0.4, 3.0
SUPPLY_LESS, SUPPLY_LESS_SIGMAS = 0.7, 2.0
SUPPLY_SPANS_H = (2.0, 3.0, 4.0)
SUPPLY_LOOK_BACK_H = (0.0, 4.0, 8.0, 12.0)
SUPPLY_SPAN_SHARE = 0.75

#: A reservoir that gives more than this share of what is usual, beyond so many standard errors, does supply its line.
SUPPLY_DRAWS = 0.6
SUPPLY_SIGMAS = 1.0

#: None of a line's containers has been watered for hours, though in these hours some were on each of the last days, all
#: but one, while some stand so far [mbar] above their usual peak and the reservoir gives little. Which share of them
#: stands there, and how many; which share of its part it gives at most over any of the spans [h], by how many standard
#: errors; how many were watered on the second poorest day, and on average. Chosen here: what one lacks others have.
UNSERVED_ASKS_MBAR = 2.0
UNSERVED_SIGNS = (
    (0.5, 3, 0.4, 2.0, 1, 3),
    (0.5, 4, 0.4, 1.0, 0, 1),
    (0.3, 3, 0.3, 2.0, 3, 3),
    (0.65, 3, 0.4, 2.0, 0, 1),
)
UNSERVED_SPANS_H = (2.0, 3.0, 4.0, 6.0, 8.0)
#: An air lock lets a little through, and somebody may come by with a can: one in so many containers may be watered.
UNSERVED_SPARED = 8
#: Hours ago as of which it is asked, of containers that have stood there since: by night nothing is missed. It ends
#: once more than one in so many has been watered.
UNSERVED_BACK_H = (0, 1, 2, 3, 4, 6, 8, 10, 12)
UNSERVED_HOLDS = 4
#: Days looked back on, and hours in which none was watered at most.
UNSERVED_DAYS = 7
UNSERVED_MOST_H = 24

# First signs ----------------------------------------------------------------------------------------------------------

#: A container's call may wait for its line or room while its dry limit is so many hours off, also by the pessimistic
#: end of the forecast. Chosen here: an hour by its middle, and nearly a sweep, which looks every quarter of an hour.
EARLY_LEFT_H = 0.2

#: Emitters of a room that have moved, so that it may be becoming uneven.
EARLY_MOVED = 2

#: A gateway is overdue once its busiest channel could have been heard so many times: a single late pack is no sign.
OVERDUE_INTERVALS = 1.5

#: Two or more that have slid wetter by so much than what all but this share of the hours of the last days showed, the
#: latest ones left out, speak of emitters that creep and not of a line. One was poured on where it fell deep within so
#: many hours: a can is emptied in minutes and spreads in two hours (common practice). Chosen here.
WETTER_HOURS = 168
WETTER_POURED_H = 4
WETTER_LATE_H = 24
WETTER_SHARE = 0.05
WETTER_MBAR = 2.0

# Leaks ----------------------------------------------------------------------------------------------------------------

#: A leak runs through so many parts; in the least of them it is this share of the whole.
LEAK_PARTS = 4
LEAK_EVEN = 0.5

#: Hours of each part, by how many standard errors the whole must be beyond chance, and how many litres an hour it must
#: be; the longest look first. Chosen here: the longest is longer than lights are switched on earlier or off later at
#: once, and than a line takes to catch up; by the shorter ones a leak that is far beyond that is told before half a
#: day's light has gone. The least of all is some four drops a second; less is no more than young plants grow by in the
#: days in which a level told nothing, and what they begin to drink sooner each morning is less than the others. Of 158
#: leaks on nine tuning seeds the shorter looks tell 152 within six lit hours; at half an error more they told 147, and
#: as many calls in 750 room-months were false.
LEAK_LOOKS = ((2.0, 4.0, 0.8), (1.5, 3.5, 1.2), (1.0, 4.5, 1.2))

#: It is at least this share of what is usual then. Chosen here.
LEAK_SHARE = 0.5

#: Where whole days of late differ by more than this share, none of them tells what is usual, and no leak is told.
#: Chosen here: of 92 leaks on five tuning seeds one was told where they differed by more, three by more than 0.4.
LEAK_DIFFER_MOST = 0.6

#: Once seen it goes on while this many standard errors more than usual leave; seen is asked as of these hours ago.
LEAK_HOLD_SIGMAS = 1.5

#: It runs on while in the quiet hours of the last day so much more [l/h] leaves than in those of days longer ago than
#: so many, since what has leaked for days is in what is usual. Quiet is this share of a day's hours: nights last four
#: hours at least, and in some of them a pot may catch up, but a leak does not rest; and so many of a day must be known,
#: since its quiet ones may be missing. Chosen here: half of the least leak that is called.
LEAK_RUNS_ON_L_PER_H = 0.4
LEAK_RUNS_ON_DAYS = 4
QUIET_HOURS = 0.1
QUIET_DAYS = 14
QUIET_KNOWN_H = 20
#: In quiet hours most days give at most this share of the mean. Chosen here: plants hardly drink in the dark.
QUIET_MOST = 0.3
LEAK_LOOK_BACK_H = (1.0, 2.0, 3.0, 6.0, 12.0)

# Evenness -------------------------------------------------------------------------------------------------------------

#: Days whose waterings count as "of late"; those before, within `SWING_HOURS`, are usual.
UNEVEN_DAYS = 2

#: Containers of a room that must tell, and how far [mbar] one must have moved against the others to be named.
UNEVEN_LEAST = 4
UNEVEN_MBAR = 9.0

#: Emitters that must have moved: at least so many, and this share of those that tell.
UNEVEN_MOVED = 3
UNEVEN_SHARE = 0.25

#: How much wider the room's spread must be than usual; usual is taken as at least this [mbar], the spread of emitters
#: set with care (common practice: within some ten mbar).
UNEVEN_FACTOR = 1.6
UNEVEN_USUAL_MBAR = 10.0

#: Names given in the evidence.
UNEVEN_NAMES = 6

# Does the medium get drier? -------------------------------------------------------------------------------------------

#: Waterings of the last hours are compared with those before other hours.
DRIER_LATE_HOURS = 48
DRIER_EARLY_HOURS = 96

#: Waterings of late that must tell, and how many times a usual one is none of the emitter's.
DRIER_NEEDS = 2
DRIER_NO_CAN = 2.2

#: Below this power of tension waterings have not grown, as of now and all these hours ago. Chosen here: of simulated
#: drifts in four media nineteen in twenty show more.
DRIER_POWER = 0.08
DRIER_ASKED_H = (0, 12, 24)

#: Log of how much tension must have grown before waterings that have not grown with it are held against the probe: near
#: one and a half times the usual the waterings of one emitter in four that drifted in the tuning seeds had not grown
#: either, and its plants matter more. Beside a second probe that is not asked.
DRIER_MUCH = 0.9

# Instruments that lie -------------------------------------------------------------------------------------------------

#: Values this near [mbar, mm] to each other are the same.
SAME_MBAR = 0.005

#: A battery that was low stays so until it shows this much [%] more than what counts as low. Chosen here.
BATTERY_RELEASE_PERCENT = 5.0

#: Hours of exactly the same value that are too many where chance hardly gives them: chance by the share of fine buckets
#: that were like the one before in the stillest of windows of so many, with so many readings at least. Chosen here:
#: asked every quarter of an hour, one that moves has many chances to look still.
FLAT_HOURS = 1.5
FLAT_CHANCE = 1e-5
FLAT_WINDOW_STEPS = 36
FLAT_WINDOW_NEEDS = 9

#: Where a channel hardly moves at these hours, chance by so short windows must be no more than this, too. Chosen here:
#: of 109 instruments on tuning seeds that stood still one more was told after three hours; of the others, in 240
#: room-months, none was taken for still, and four before.
FLAT_SHORT_WINDOW_STEPS = 18
FLAT_SHORT_CHANCE = 1e-3

#: Where it moved at these hours yesterday, too, and until it stood still, so little chance by its quietest hours will
#: do, if by short windows of such hours (with so many steps to spare) there is as little as above: its plant drinks,
#: and only one taken out just now could make it still. Chosen here.
FLAT_AWAKE_CHANCE = 2e-4
FLAT_SPARE_STEPS = 6

#: It had slowed where in so many fine buckets before it moved by less than this share of what it did a day ago. Chosen
#: here: three hours, in which pots whose plants drink move by some mbar.
FLAT_JUST_BEFORE_STEPS = 36
FLAT_SLOWED = 0.3

#: Where it has moved less than `FLAT_MOVES_MBAR` within two days, chance must be no more than this: nothing drinks, and
#: a value may stay in the middle of its step for a night and longer. Chosen here.
FLAT_IDLE_CHANCE = 1e-6

#: Steps hide the noise where, of buckets of several readings, this share divided by the root of their number, or more,
#: hold one value only. Chosen here: rounded normal noise of which that is so wherever in a step a value lies shows one
#: value in four of seven buckets in the middle of a step, for two readings a bucket as for thirty, and for an hour and
#: a half in one case of some ten thousand; two thirds of that noise in one of three.
FLAT_HIDES = 0.75

#: Chance is told only where so many of so many hours before are known: otherwise its night may not be among them.
FLAT_KNOWN_H = 24
FLAT_KNOWN_WITHIN_H = 48

#: Hours that are too many where chance may give them, but the channel usually moves at these hours, by so much [mbar,
#: mm] on the second least of so many days; and by how many they must pass the longest there was at other hours. Chosen
#: here: above the coarsest usual steps, one mbar, and their noise; where a plant was taken out hardly anything moves.
FLAT_AWAKE_HOURS = 8.0
FLAT_MOVES_MBAR = 4.0
FLAT_DAYS = 5
FLAT_ASLEEP_HOURS = 6.0

#: Hours still in one that are no habit (longer than any night's sleep), and fine buckets without a reading that end a
#: stillness: a channel read every 10 minutes fills every second. Chosen here.
FLAT_HABIT_HOURS = 18
FLAT_GAP_STEPS = 6

#: Jitter [mbar], and fine buckets over which it is looked at. Chosen here: waterings bend tension for minutes only, the
#: noise of small electronic tensiometers is tenths of a mbar (from memory).
ROUGH_MBAR = 6.0
ROUGH_STEPS = 18

#: Share of readings at which a series that jitters turns: two thirds for pure noise (Kendall's turning points).
ROUGH_TURNS = 0.4

#: A tensiometer that air gets into rises within so many fine buckets by at least so much [mbar], to at least so many
#: times what it was, from where its container works: under its dry limit, and not from nearly nothing, where shares
#: tell little. Drying media steepen as tension^1.5 (`STEEPENS`): the driest of simulated pots in tuning seeds came to
#: 1.45 times. Air takes a tensiometer to its limit within hours.
CLIMB_STEPS = 18
CLIMB_MBAR = 60.0
CLIMB_FACTOR = 1.6
CLIMB_FROM_MBAR = 10.0

#: Shares of the rise that lie in its first two thirds at least, and in its last: a climb goes on, a leap does not.
CLIMB_SHARE = 0.3
CLIMB_GOES_ON = 0.08

#: It is back once it shows no more than this many times the median of so many fine buckets before it climbed. In those
#: it did not come down by this factor: that is a broken column's way to nothing. Gaps of so many are bridged.
CLIMB_BACK = 1.3
CLIMB_BEFORE_STEPS = 36
CLIMB_FALLS = 3.0
CLIMB_GAP_STEPS = 60
#: So many fine buckets on end near there again, and the climb is over for good. Chosen here: four hours; a tensiometer
#: whose column broke passes there on its way to nothing within two.
CLIMB_BACK_STEPS = 48

#: How far [mbar] a container and its twin must have parted in a slow drift for the probe to be blamed, over these days.
TWIN_MBAR = 12.0
TWIN_DAYS = 10

#: It has been put right once it stands less than this share of such a distance apart over the last hours. Chosen here.
TWIN_STILL = 0.5
TWIN_NOW_H = 2

#: How far [mbar] the difference of twin probes must have moved since the first half of the last days, of which two
#: numbers are tried: an older drift may lie in the longer. Chosen here: above what lag and temperature make of them.
TWIN_APART_MBAR = 10.0
TWIN_LOOKS_DAYS = (10, 6)

#: A probe that creeps moves day by day: a ramp of a day at least (in quarters of days) leaves at most this share of
#: what the best step leaves of their difference. A probe put right, or into another pot, moves at once. Chosen here.
TWIN_RAMP_QUARTERS = 4
TWIN_RAMP_SHARE = 0.5
TWIN_NEEDS_QUARTERS = 16

#: A difference that moves at least so far [mbar] from one quarter of a day to the next leaps: a probe was put
#: elsewhere. Chosen here: four of them a day are more than probes creep, one is more than day and night make of twins.
TWIN_LEAP_MBAR = 5.0

#: Below this tension [mbar] a cup stands in water, or has lost its own, and tells nothing of its twin.
TWIN_LEAST_MBAR = 15.0

#: A probe creeps from where its container usually is; beyond so many times the dry limit it tells of a drought.
CREEP_LIMIT = 1.3

#: Of a line on which so many others stand well above their usual peaks no probe is said to creep. Chosen here: air may
#: lock but a part of a line, and its containers dry together.
CREEP_OTHERS = 2

#: A second probe that rose by at least this share of the first one's rise agrees with it.
TWIN_AGREES = 0.5
