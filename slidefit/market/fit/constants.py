"""The constants of statistics of the within-sale fit, each with its why and its source."""

from __future__ import annotations

# --- which model the records can bear (docs/method.md, "What the records can bear", has what was measured) ---
THIN_ROWS = 300
"""Lots below which a slide of one's own is worse than a prior: measured on thinned real records, no outside source."""
THIN_SALES = 10
"""Sales below which errors clustered by sale have too few clusters (Cameron and Miller 2015, sec. VI)."""
SPLINE_ROWS = 1_000
"""Lots from which a spline and a season are offered to the choice; the choice still may refuse them."""
SPLINE_MONTHS = 12.0
"""Months: one whole year, below which a season is not told from a trend."""
LEVEL_MONTHS = 24.0
"""Months: two years, below which price level and season are one and the same."""
LEVEL_MIN_SALES = 20
"""Sales: each gives one price level; a slope in the level takes about twenty points (common practice, no source)."""
SEX_ROWS = 30
"""Lots of a sex below which it is left out: 29 bulls among 1,800 lots moved the steers' slide (docs/method.md)."""
LENT_SEX_ROWS = 10
"""The same where a region lends the slide: it is moved by the lots for what they know; our choice, no source."""
SEX_QUADRATIC_ROWS = 100
"""Lots of a sex from which it may bend, about thirty for each column; our choice, no source."""
SEX_SPLINE_ROWS = 300
"""Lots of a sex from which it may have a spline; as many as stand alone (THIN_ROWS)."""
GRADE_ROWS = 100
"""Lots of a grade from which its discount is known to about a point (.08 / root of 100); else it is pooled."""
LEVEL_GRADE_ROWS = 300
"""Lots of a grade from which its discount may move with the price level; as many as stand alone."""
TRAIT_ROWS = 30
"""Lots with a trait, and without it, that a column takes; as many as a sex does."""

# --- the choice among candidate models ---
FOLDS = 10
"""Ten folds of whole sales: Hastie, Tibshirani and Friedman (2009), sec. 7.10.1."""
FOLD_SEED = 20_001
"""Any number: the same records are cut, and sampled, the same way every time."""
MOST_ROWS = 200_000
"""Lots that the choice and the robust refit look at: by then errors of the choice lie far below what it decides."""

# --- the passes ---
LEVEL_PASSES = 3
"""Passes until price levels, row weights and gross errors stand (docs/method.md)."""
FIRST_LOT_SD, FIRST_CALF_SD = 0.04, 0.12
"""Spreads that the first pass weighs by: those of real records (docs/method.md); the passes estimate them anew."""
MIN_ROW_SD = 0.01
"""Least spread of a lot: prices are told to the quarter dollar, a fifth of a percent; keeps weights finite."""
USUAL_HEAD = 15.0
"""Head of a lot that told none: the middle of real auction lots."""
GROSS_ERROR_SD = 8.0
"""Deviations from the sale that make a misprint: real tails reach six or seven, a slipped decimal point twenty."""
RANK_TOLERANCE = 1e-9
"""Share of a column's length, left by earlier columns, under which it counts as their combination: well above the
rounding of an orthogonal decomposition (1e-15 times the columns), well below any column of real records."""
SAFE_CHOLESKY = 0.02
"""Least such share for which the triangle is taken from the normal equations: they square it, so that twelve digits of
sixteen are left (Golub and Van Loan, Matrix Computations, 4th ed., sec. 5.3); else it is taken by orthogonal steps.
Columns of real records keep .03 or more."""

# --- errors ---
YEAR_CLUSTERS = 6
"""Crop years from which errors are clustered by year: below, t with so few degrees of freedom says next to nothing."""
SHORT_HISTORY_INFLATION = 3.0
"""Factor on errors clustered by sale for the slide's drift from year to year: measured on real records."""
CENTRAL_SHARE = 0.99
"""Share of head that marks the weights seen: leaves out the odd calf at either end."""
DEFAULT_DRIFT_CWT = 0.016
"""Straying of one sale's slide [log points per cwt] where under DRIFT_MIN_SALES tell: as measured on real records."""
DRIFT_MIN_SALES = 40
"""Sales from which the straying is estimated: its own error is then about an eighth of it (1 / root of 2 x 40)."""
NOW_MIN_WEEKS = 100
"""Weeks with sales from which the straying's persistence is estimated: two years."""

# --- the prior of thin records ---
STRAY_WEEKS = 11.5
"""Weeks that count as one for a slide that strays with a weekly autocorrelation of .84, as on real records:
(1 + .84) / (1 - .84)."""
SHARED_STRAY = 0.68
"""Correlation of how two barns' slides stray in one year: measured on real records of two states."""
FURTHEST_LEVEL = 0.5
"""Log points that a region's slide is carried to another price level at most: prices by two thirds higher."""
USUAL_SLIDE = {"steer": -0.10, "heifer": -0.08, "bull": -0.10}
"""Log points per cwt: common practice, no source (8 to 12 percent from 450 to 650 lb; heifers a fifth below steers)."""
USUAL_SLIDE_SD = 0.03
"""Give or take of the usual slide: its customary range is two of these to either side; our judgment."""
USUAL_HEIFER_HEIGHT, HEIGHT_SD = -0.10, 0.05
"""Heifers below steers at 550 lb, and give or take [log points]: common practice, no source."""
USUAL_HEAD_SLOPE, HEAD_SLOPE_SD = 0.015, 0.015
"""What a lot e times as large brings more [log points]: as measured on real records; may be nothing."""
MARKETS_SLIDE_SD = 0.015
"""How far slides of markets of one region differ [log points per cwt]: barns of three states differ by more, barns of
one state by less; our judgment, no source. A region's file tells its own where it was pooled."""
SETTLED_COUNT = 2.0
"""Values' worth of the usual spread that an estimated one is settled with: a few can look alike by luck; our choice."""
MARKETS_BEND_SD = 0.005
"""How far their bends differ; our judgment, no source."""
GRADES_SD, GRADE_NEAR = 0.10, 0.5
"""How far grades lie from those they are pooled with [log points], and how alike the departures of two grades a step of
frame or muscle apart are: our judgment, no source; the records' own spread takes the first one's place."""
GRADE_SLOPE_SD = 0.02
"""How far the slide of a grade lies from the standard one's [log points per cwt]: our judgment, no source."""
LENT_GRADE_SD = 0.03
"""How far a market's discount of a grade lies from its region's [log points]: our judgment, no source."""
UNKNOWN_SD = 10.0
"""Error of a grade that the lots don't tell at all: as good as boundless for a log price."""

# --- the robust refit and the look at the years ---
HUBER_K = 1.345
"""Huber's constant for 95 percent efficiency under normal errors (Huber and Ronchetti 2009, sec. 7.8)."""
MAD_TO_SD = 0.6744897501960817
"""Median of |e| of a standard normal: the 75th percentile of the normal distribution."""
ROBUST_STEPS = 30
"""Most reweighting steps; real records take 14."""
ROBUST_SETTLED_LOG = 2e-4
"""Movement of a coefficient under which the refit is done [log points]: a fiftieth of a percent of price."""
MATERIAL_LOG = 2e-3
"""Gap of two slides that is worth a word, two tenths of a point: the last figure that is shown."""
NAMED_LOTS = 5
"""Lots named for a gap: as many as somebody will look up."""
YEAR_MIN_SALES, YEAR_MIN_LOTS = 5, 60
"""What a crop year takes for a slide of its own: t with four degrees of freedom, a dozen lots a sale."""
GRADE_YEAR_LOTS = 40
"""Lots of a grade in a year that its discount takes: known to about 1.3 points (.08 / root of 40)."""
JUMP_LOG, JUMP_ERRORS = 0.03, 4.0
"""A discount that moved by more than three percent and four of its errors in a year has jumped: in a hundred looks at a
steady grade four errors are passed by luck less than once (normal tail 6e-5)."""

# --- the price index ---
SALE_SD_PASSES = 8
"""Rounds of weights and spread between sales; the spread stands to four digits after five."""
FIRST_SALE_SD = 0.03
"""Spread of sales around their month where no month has two: as measured on real records."""
MIN_SALE_SD = 0.005
"""Least such spread: half a percent, below which the weights of sales are no longer told apart."""
MARKET_SD = 0.10
"""How far barns lie apart before the records speak (our choice); settles those that never sold in one month."""
