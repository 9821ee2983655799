//! Water, ice, friction and the temperature of the dough.
