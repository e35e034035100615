//! What the checks share.

#![allow(clippy::expect_used)] // the harness is test code: where it fails, the test has failed

pub mod browser;
pub mod bud;
pub mod course;
pub mod database;
pub mod house;
pub mod keyed_server;
pub mod line;
pub mod manager;
pub mod markdown;
pub mod mosquitto;
pub mod proxy;
pub mod readers;
pub mod service;
pub mod tables;
pub mod web;
pub mod wire;
