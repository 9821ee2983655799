#![doc = include_str!("guide/links.md")]
#![doc = include_str!("guide/README.md")]

/// Each chapter is the text of its file. `links.md` and `figures.md` say what its links and pictures are in this
/// documentation; on the disk they are the files beside it, as the foot of each text says.
macro_rules! chapters {
    ($($name:ident)+) => {$(
        pub mod $name {
            #![doc = include_str!("guide/links.md")]
            #![doc = include_str!("guide/figures.md")]
            #![doc = include_str!(concat!("guide/", stringify!($name), ".md"))]
        }
    )+};
}

chapters! {
    first_bake bake_file off_plan cold_proof summer_ice own_log phone_page embedding model trust glossary
}
