//! The integration tests, one module a concern, linked once. `cargo test golden::` runs those of one module.

// Some tests are there on Unix alone, and what they stand on is then not used.
#![cfg_attr(windows, allow(dead_code, unused_imports))]

#[path = "../support/mod.rs"]
mod support;

mod accepted;
mod bounded_time;
mod cameras;
mod cameras_command;
mod causes;
mod causes_seen;
mod check_values;
mod checks_on_series;
mod clocks;
mod command_line;
mod compare;
mod compare_reading;
mod containers;
mod copies;
mod delivery;
mod dials;
mod doubted_plan;
mod embedded;
mod exif_cases;
mod faults;
mod feasible_line;
mod file_circles;
mod file_order;
mod flash_patterns;
mod golden;
mod hostile_pictures;
mod house_rules;
mod main_job;
mod main_job_card;
mod main_job_names;
mod movement;
mod mutations;
mod noise_floors;
mod one_screen;
mod patches;
mod pictures;
mod pictures_shown;
mod plan_command;
mod planned_changes;
mod planned_runs;
mod progress;
mod progress_command;
mod promises;
mod properties;
mod read_only;
mod reading;
mod readme;
mod real_files;
mod real_sequences;
mod real_stamps;
mod registration;
mod rehearsals;
mod remarks;
mod report_size;
mod rubbish;
mod run_ends;
mod samples;
mod schedule;
mod schema;
mod scoreboard;
mod shoots;
mod site_days;
mod survey;
mod test_shots;
mod trouble;
mod two_cards;
mod wild;
