//! Room and dough temperature against time.
