//! The one test program: runs the program as a user does and reads what came out.

mod bad_input;
mod compared;
mod demo;
mod layout;
mod shell;
mod shop;
