//! What `check` tells, for programs.

use serde_json::{Value, json};
use spurline_plan::{Forecast, Job, KeyDownForecast, ReadingForecast, ScopeForecast, Slot, StageForecast};

use spurline_units::Seconds;

use super::{fact_words, search, spectrum, why, word};

pub(super) fn document(job: &Job, forecast: &Forecast) -> Value {
    json!({
        "plan": job.plan.title,
        "bench": job.bench.title,
        "rule": job.plan.rule,
        "supplies": job.plan.supplies.iter().map(|supply| &supply.name).collect::<Vec<_>>(),
        "key_downs": forecast.key_downs(),
        "keyed_s": forecast.keyed(),
        "bench_time_s": forecast.bench_time,
        "search_allowance": forecast.allowance().map(|more| json!({
            "lines": more.lines, "most_key_downs": more.key_downs, "keyed_s": more.keyed, "bench_time_s": more.time,
        })),
        "warmest_part": forecast.warmest.as_ref().map(|warm| json!({
            "name": warm.part, "share_of_rise": warm.rise, "temperature_c": warm.temperature(),
        })),
        "notes": forecast.notes,
        "timetable": forecast.timetable.iter().map(slot_json).collect::<Vec<_>>(),
        "scopes": forecast.scopes.iter().map(scope_json).collect::<Vec<_>>(),
        "stages": forecast.stages.iter().map(stage_json).collect::<Vec<_>>(),
    })
}

fn scope_json(scope: &ScopeForecast) -> Value {
    json!({
        "channel": scope.scope.channel,
        "carrier_hz": scope.scope.carrier,
        "power_setting": scope.scope.power_setting,
        "supplies": scope.supplies,
        "measures": scope.extent.word(),
        "window_w": [scope.window.low().watts(), scope.window.high().watts()],
        "expanded_uncertainty_db": scope.expanded,
        "prospect": word(&scope.prospect),
        "reason": why(&scope.prospect),
        "key_downs": scope.key_downs.iter().map(key_down_json).collect::<Vec<_>>(),
        "set_up": scope.set_up.as_ref().map(|set_up| json!({
            "tone_hz": set_up.tone, "most_looks": set_up.looks, "most_key_downs": set_up.key_downs,
            "keyed_s": set_up.keyed,
        })),
        "modulation": scope.modulation.iter().map(|fact| json!({
            "what": fact_words(fact), "limits": fact.limits, "prospect": word(&fact.prospect), "reason": why(&fact.prospect),
        })).collect::<Vec<_>>(),
        "course_keyed_s": scope.course,
        "search": scope.search.as_ref().map(search::json),
        "spectrum": scope.spectrum.iter().map(spectrum::json).collect::<Vec<_>>(),
        "readings": scope.readings.iter().map(reading_json).collect::<Vec<_>>(),
    })
}

fn stage_json(stage: &StageForecast) -> Value {
    json!({
        "what": stage.what,
        "how": stage.how,
        "readings": stage.readings,
        "key_downs": stage.downs.len(),
        "keyed_s": stage.downs.iter().fold(Seconds::default(), |sum, down| sum + down.keyed),
        "unkeyed_s": stage.unkeyed,
        "prospect": word(&stage.prospect),
        "reason": why(&stage.prospect),
    })
}

fn slot_json(slot: &Slot) -> Value {
    json!({
        "at_s": slot.at,
        "keyed_s": slot.keyed,
        "rest_s": slot.rest,
        "supply": slot.supply,
        "channel": slot.channel,
        "power_setting": slot.power_setting,
        "path": slot.path,
        "tasks": slot.tasks.iter().map(|task| json!({
            "what": task.what, "number": task.number, "time_s": task.time,
        })).collect::<Vec<_>>(),
    })
}

fn key_down_json(down: &KeyDownForecast) -> Value {
    json!({
        "path": down.path,
        "keyed_s": down.keyed,
        "analyser_input_dbm": down.analyser_input,
        "meter_input_dbm": down.meter_input,
        "parts": down.parts.iter().map(|part| json!({
            "name": part.name, "incident_w": part.incident, "rated_w": part.rated,
        })).collect::<Vec<_>>(),
    })
}

fn reading_json(reading: &ReadingForecast) -> Value {
    json!({
        "order": reading.order,
        "frequency_hz": reading.frequency,
        "path": reading.path,
        "limit_low_dbm": reading.limit.map(|limit| limit.0),
        "limit_high_dbm": reading.limit.map(|limit| limit.1),
        "path_loss_db": reading.path_loss,
        "rbw_hz": reading.rbw,
        "choice": reading.choice,
        "attenuation_db": reading.attenuation,
        "needed_floor_dbm": reading.needed_floor,
        "floor_dbm": reading.floor,
        "own_product_dbm": reading.own_product,
        "expanded_uncertainty_db": reading.expanded,
        "prospect": word(&reading.prospect),
        "reason": why(&reading.prospect),
    })
}
