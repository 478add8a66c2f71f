-- Fade by chemistry over a fleet: one row a chemistry. FILES is a folder into which the boats' exports were laid:
--   taffrail export capacity --format parquet --out FILES/
-- A bank counts once it has findings over two years; its fade is the slope of a straight line through what its findings
-- together told of its capacity, in parts of the rating a year.
WITH bank_fade AS (
    SELECT vessel, bank, chemistry,
        regr_slope(combined_ah / rated_capacity_ah, epoch(utc) / (365.25 * 86400)) AS fade_per_year,
        arg_max(combined_ah / rated_capacity_ah, utc) AS latest,
        epoch(max(utc) - min(utc)) / (365.25 * 86400) AS years
    FROM read_parquet('FILES/**/capacity-*.parquet', hive_partitioning = true)
    WHERE believed AND combined_ah IS NOT NULL
    GROUP BY vessel, bank, chemistry
)
SELECT chemistry, count(*) AS banks,
    round(100 * median(fade_per_year), 2) AS median_fade_percent_a_year,
    round(100 * quantile_cont(fade_per_year, 0.1), 2) AS worst_tenth,
    round(100 * quantile_cont(fade_per_year, 0.9), 2) AS best_tenth,
    round(100 * median(latest), 1) AS median_capacity_percent,
    count(*) FILTER (latest < 0.8) AS below_80_percent
FROM bank_fade
WHERE years >= 2
GROUP BY chemistry
ORDER BY chemistry;
